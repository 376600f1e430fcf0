package output

import "io/fs"

// A file is its writer's alone, since it may tell who flew when. Where it is to be
// shared, the umask decides who else may read it, as usual.

// FileMode returns the mode a file is made with.
func FileMode(share bool) fs.FileMode {
	if share {
		return 0o666
	}
	return 0o600
}

// FolderMode returns the mode a folder is made with.
func FolderMode(share bool) fs.FileMode {
	if share {
		return 0o777
	}
	return 0o700
}
