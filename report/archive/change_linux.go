package archive

import (
	"io/fs"
	"syscall"
)

// changeTime is when the file's record last changed, by whatever call.
func changeTime(info fs.FileInfo) int64 {
	if s, ok := info.Sys().(*syscall.Stat_t); ok {
		return s.Ctim.Nano()
	}
	return 0
}
