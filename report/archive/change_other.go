//go:build !linux

package archive

import "io/fs"

func changeTime(fs.FileInfo) int64 { return 0 }
