package schemas

import (
	"path/filepath"
	"strings"
)

// ObjectScheme begins the address of an object, or of a prefix: s3://BUCKET/KEY. The key stands
// as it is, without escapes.
const ObjectScheme = "s3://"

// IsObject reports whether the name of an input is an address in an object store.
func IsObject(name string) bool { return strings.HasPrefix(name, ObjectScheme) }

// OtherAddress returns the problem of a name that is an address of a kind that is not read,
// nil for other names.
func OtherAddress(name string) error {
	scheme, _, ok := strings.Cut(name, "://")
	if !ok || scheme == "" || IsObject(name) || strings.Trim(strings.ToLower(scheme), "abcdefghijklmnopqrstuvwxyz0123456789+-.") != "" { // RFC 3986, 3.1
		return nil
	}
	return &Problem{File: name, Cause: "is an address of a kind that is not read",
		Hint: "files are read, and objects through the S3 interface of their store: s3://bucket/prefix, in small letters; `downlock help exports` says which stores have one"}
}

// Absolute returns the absolute path of a file. The address of an object stays as it is.
func Absolute(path string) string {
	if IsObject(path) {
		return path
	}
	if a, err := filepath.Abs(path); err == nil {
		return a
	}
	return filepath.Clean(path)
}
