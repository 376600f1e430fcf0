package schemas

import (
	_ "embed"
	"slices"
	"sync"
)

// shippedProfileFile is the name the shipped profile goes by in problems.
const shippedProfileFile = "th120.yaml"

//go:embed profiles/th120.yaml
var shippedProfileText []byte

var shippedProfile = sync.OnceValues(func() (*Profile, error) {
	return ParseProfile(shippedProfileFile, shippedProfileText)
})

// ShippedProfile gives the profile of the invented type of the demonstration
// flights. It is read once and shared; nobody changes it.
func ShippedProfile() (*Profile, error) { return shippedProfile() }

// ShippedProfileText gives its commented YAML, for a user to start from. The
// caller may keep and change the copy.
func ShippedProfileText() []byte { return slices.Clone(shippedProfileText) }
