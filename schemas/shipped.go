package schemas

import (
	"embed"
	"fmt"
	"slices"
	"sync"
)

// ShippedProfileNames are the names of the profiles of the invented types in the
// demonstration. The first shows every entry a profile can have.
var ShippedProfileNames = [2]string{"th120", "th440"}

//go:embed profiles/*.yaml
var shippedProfileFiles embed.FS

var shippedProfiles = sync.OnceValues(func() (map[string]*Profile, error) {
	profiles := map[string]*Profile{}
	for _, name := range ShippedProfileNames {
		p, err := ParseProfile(name+".yaml", ShippedProfileTextNamed(name))
		if err != nil {
			return nil, err
		}
		profiles[name] = p
	}
	return profiles, nil
})

// ShippedProfile returns the profile of the TH-120, the type of most demonstration
// flights. It is read once and shared; nobody changes it.
func ShippedProfile() (*Profile, error) { return ShippedProfileNamed(ShippedProfileNames[0]) }

// ShippedProfileNamed returns one of the shipped profiles by its name.
func ShippedProfileNamed(name string) (*Profile, error) {
	profiles, err := shippedProfiles()
	if err != nil {
		return nil, err
	}
	p, ok := profiles[name]
	if !ok {
		return nil, fmt.Errorf("no shipped profile is named %q", name)
	}
	return p, nil
}

// ShippedProfileText returns the commented YAML of the TH-120, for a user to start
// from. The caller may keep and change the copy.
func ShippedProfileText() []byte { return ShippedProfileTextNamed(ShippedProfileNames[0]) }

// ShippedProfileTextNamed returns the YAML of a shipped profile, or nil for an
// unknown name.
func ShippedProfileTextNamed(name string) []byte {
	text, err := shippedProfileFiles.ReadFile("profiles/" + name + ".yaml")
	if err != nil {
		return nil
	}
	return slices.Clone(text)
}
