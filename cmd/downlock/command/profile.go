package command

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"

	"downlock/ingest"
	"downlock/report/identity"
	"downlock/schemas"
	"downlock/testdata"
)

// ChooseProfile reads the profile in a file, or takes the shipped one of the inputs
// where file is "" and all of them are shipped demo data. The profile is nil, with an
// exit code, when that fails. The key withholds the name of an input from a message.
func ChooseProfile(file string, inputs []string, key *identity.Key, say Messages) (*schemas.Profile, int) {
	if file != "" {
		p, err := schemas.ReadProfile(file)
		if err != nil {
			say.Failure(err)
			return nil, ExitInvalid
		}
		say.Notes(p.Document().OldNames())
		return p, ExitDone
	}
	name, foreign := demoProfileOf(inputs)
	switch {
	case foreign != "" && name != "":
		say.Error(fmt.Sprintf("%s is shipped demo data of another type than the files before it", foreign))
		say.Hint("scan the files of each type separately, or use --fleet to say which profile each has")
		return nil, ExitUsage
	case foreign != "":
		say.Error(fmt.Sprintf("%s is not shipped demo data and needs a profile: which column is which parameter, in what unit, and the limits of the type", key.Input(foreign, nil, "").Shown))
		say.Hint("`downlock inspect --suggest --output my-type.yaml FILE` drafts one from an export; complete it, then add --profile my-type.yaml")
		return nil, ExitUsage
	case name == "": // no file can be read, so no profile is used: take any
		name = testdata.DemoFolders[0].Profile
	}
	p, err := schemas.ShippedProfileNamed(name)
	if err != nil {
		say.Failure(err)
		return nil, ExitInvalid
	}
	return p, ExitDone
}

// demoProfileOf returns the name of the shipped profile of the files when all of them
// are shipped demo data of one type. Otherwise foreign is the first file of another
// type, or of none.
func demoProfileOf(files []string) (profile, foreign string) {
	for _, f := range files {
		sum, err := fileSum(f)
		if err != nil {
			continue // the run reads it later and says why it fails
		}
		name := testdata.DemoProfile(sum)
		switch {
		case profile == "" && name != "":
			profile = name
		case name != profile || name == "":
			return name, f
		}
	}
	return profile, ""
}

func fileSum(path string) (string, error) {
	f, _, err := ingest.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
