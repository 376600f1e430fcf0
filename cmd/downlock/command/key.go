package command

import "downlock/report/identity"

// ReadKey reads the key file a command line names, none for ""; false when that
// fails.
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
