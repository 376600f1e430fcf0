package command

import "downlock/report/identity"

// ReadKey reads the key file that a command line names. It returns no key for "", and
// false when the file cannot be read or holds no key.
func ReadKey(path string, say Messages) (*identity.Key, bool) {
	if path == "" {
		return nil, true
	}
	key, warning, err := identity.ReadKey(path)
	if err != nil {
		say.Failure(err)
		return nil, false
	}
	if warning != "" {
		say.Warning(warning)
	}
	return key, true
}
