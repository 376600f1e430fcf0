package report

import "downlock/report/output"

// file is output.File for WriteFiles.
type file struct {
	name string
	data []byte
}

// writeFiles is output.Write for WriteFiles.
func writeFiles(dir string, sync, share bool, files ...file) error {
	out := make([]output.File, len(files))
	for i, f := range files {
		out[i] = output.File{Name: f.name, Data: f.data}
	}
	return output.Write(dir, output.Options{Sync: sync, Share: share}, out...)
}
