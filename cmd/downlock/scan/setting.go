package scan

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/archive"
	"downlock/schemas"
)

// setting is what an input is read and judged with. The inputs of one aircraft share
// one.
type setting struct {
	profile  *schemas.Profile
	shown    *schemas.Profile // for results
	fileDate string           // the pattern of the fleet, which goes before the profile's; "" for none
	detector *detect.Detector
}

// input is one thing to scan.
type input struct {
	archive.Input
	*setting
}

// file is a file to read, and the setting it is read in.
type file struct {
	path string
	*setting
}

// chooseSettings reads the profile, or the fleet with its profiles, and says for each file
// which setting it is read in. A file that the fleet does not know is a failure. summary
// is the profile that stands for all of them. A code other than that of a run that is done
// says that something could not be read.
func chooseSettings(o scanOptions, paths []string, rules *detect.RuleSet, say command.Messages) (files []file, summary *schemas.Profile, failures []report.Failure, code int) {
	if o.fleet != "" {
		return fleetSettings(o, paths, rules, say)
	}
	profile, code := command.ChooseProfile(o.profile, paths, o.key, say)
	if profile == nil {
		return nil, nil, nil, code
	}
	detector, err := detect.New(profile, rules)
	if err != nil {
		say.Failure(err)
		return nil, nil, nil, command.ExitInvalid
	}
	one := &setting{profile: profile, shown: o.resultProfile(profile), detector: detector}
	for _, path := range paths {
		files = append(files, file{path, one})
	}
	return files, one.shown, nil, command.ExitDone
}

func fleetSettings(o scanOptions, paths []string, rules *detect.RuleSet, say command.Messages) (files []file, summary *schemas.Profile, failures []report.Failure, code int) {
	fleet, err := schemas.ReadFleet(o.fleet)
	if err != nil {
		say.Failure(err)
		return nil, nil, nil, command.ExitInvalid
	}
	detectors := map[string]*detect.Detector{} // by the file of the profile
	for i := range fleet.Inputs {
		profile := schemas.FleetPlace{Entry: &fleet.Inputs[i]}.Profile()
		if detectors[profile.File] == nil {
			if detectors[profile.File], err = detect.New(profile, rules); err != nil {
				say.Failure(err)
				return nil, nil, nil, command.ExitInvalid
			}
			say.Notes(profile.Document().OldNames())
		}
	}
	settings := map[schemas.FleetPlace]*setting{}
	for _, path := range paths {
		place, err := fleet.Place(path)
		if err != nil {
			failures = append(failures, report.Failure{Input: path, Err: err})
			continue
		}
		if settings[place] == nil {
			profile := place.Profile()
			settings[place] = &setting{profile, o.resultProfile(profile), place.Entry.FileDate, detectors[profile.File]}
		}
		files = append(files, file{path, settings[place]})
	}
	return files, o.key.Profile(fleet.Summary()), failures, command.ExitDone
}

// groupInputs makes one input of files that are parts of one recording. Inputs come in
// the order of their first files.
func groupInputs(files []file) []input {
	var settings []*setting
	paths := map[*setting][]string{}
	order := map[string]int{}
	for i, f := range files {
		if paths[f.setting] == nil {
			settings = append(settings, f.setting)
		}
		paths[f.setting] = append(paths[f.setting], f.path)
		order[f.path] = i
	}
	var inputs []input
	for _, s := range settings {
		for _, group := range ingest.GroupParts(paths[s], s.profile) {
			inputs = append(inputs, input{archive.Input{Path: inputName(group, s.profile), Files: group}, s})
		}
	}
	first := func(in input) int {
		least := len(files)
		for _, path := range in.Files {
			least = min(least, order[path])
		}
		return least
	}
	slices.SortStableFunc(inputs, func(a, b input) int { return first(a) - first(b) })
	return inputs
}

// reportRun returns the run for the reports of an input.
func (s *scan) reportRun(in input) *report.Run {
	run := *s.report
	run.Profile = in.shown
	return &run
}

// archiveRun returns the run for the entries of an input in the archive. base is that of
// all of them.
func archiveRun(base *archive.Run, in input) *archive.Run {
	if in.shown == base.Profile {
		return base
	}
	run := *base
	run.Profile = in.shown
	if in.fileDate != "" {
		sum := sha256.Sum256([]byte(in.fileDate))
		run.FileDate = run.Identity.Sum(hex.EncodeToString(sum[:]))
	}
	return &run
}

// archiveInputs returns the inputs as the archive takes them.
func archiveInputs(inputs []input) []archive.Input {
	out := make([]archive.Input, len(inputs))
	for i, in := range inputs {
		out[i] = in.Input
	}
	return out
}
