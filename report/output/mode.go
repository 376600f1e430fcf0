package output

import "io/fs"

// A file is private to its writer, since it may tell who flew when. With share, the
// umask decides as usual who else may read it.

// FileMode returns the mode for a new file.
func FileMode(share bool) fs.FileMode {
	if share {
		return 0o666
	}
	return 0o600
}

// FolderMode returns the mode for a new folder.
func FolderMode(share bool) fs.FileMode {
	if share {
		return 0o777
	}
	return 0o700
}
