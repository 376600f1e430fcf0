package scan

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"os"
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

// settings are the settings of a run: of says which one a file is read in, and fails for one
// that the fleet does not know. summary is the profile that stands for all of them.
type settings struct {
	summary *schemas.Profile
	of      func(path string) (*setting, error)
}

// place says for each file which setting it is read in.
func (all settings) place(paths []string) (files []file, failures []report.Failure) {
	for _, path := range paths {
		one, err := all.of(path)
		if err != nil {
			failures = append(failures, report.Failure{Input: path, Err: err})
			continue
		}
		files = append(files, file{path, one})
	}
	return files, failures
}

// readSettings reads the profile, or the fleet with its profiles. paths are the inputs: demo
// data need no profile. A code other than that of a run that is done says that something
// could not be read.
func readSettings(o scanOptions, paths []string, rules *detect.RuleSet, say command.Messages) (all settings, code int) {
	if o.fleet != "" {
		return fleetSettings(o, rules, say)
	}
	profile, code := command.ChooseProfile(o.copyOf(o.profile), paths, o.key, say)
	if profile == nil {
		return all, code
	}
	detector, err := detect.New(profile, rules)
	if err != nil {
		say.Failure(err)
		return all, command.ExitInvalid
	}
	one := &setting{profile: profile, shown: o.resultProfile(profile), detector: detector}
	return settings{one.shown, func(string) (*setting, error) { return one, nil }}, command.ExitDone
}

func fleetSettings(o scanOptions, rules *detect.RuleSet, say command.Messages) (all settings, code int) {
	fleet, err := o.readFleet(func(path string) (*schemas.Profile, error) { return schemas.ReadProfile(o.copyOf(path)) })
	if err != nil {
		say.Failure(err)
		return all, command.ExitInvalid
	}
	detectors := map[string]*detect.Detector{} // by the file of the profile
	for i := range fleet.Inputs {
		profile := schemas.FleetPlace{Entry: &fleet.Inputs[i]}.Profile()
		if detectors[profile.File] == nil {
			if detectors[profile.File], err = detect.New(profile, rules); err != nil {
				say.Failure(err)
				return all, command.ExitInvalid
			}
			say.Notes(profile.Document().OldNames())
		}
	}
	known := map[schemas.FleetPlace]*setting{}
	return settings{o.key.Profile(fleet.Summary()), func(path string) (*setting, error) {
		place, err := fleet.Place(path)
		if err != nil {
			return nil, err
		}
		if known[place] == nil {
			profile := place.Profile()
			known[place] = &setting{profile, o.resultProfile(profile), place.Entry.FileDate, detectors[profile.File]}
		}
		return known[place], nil
	}}, command.ExitDone
}

// readFleet reads the fleet; it calls read once for the path of each profile.
func (o scanOptions) readFleet(read func(path string) (*schemas.Profile, error)) (*schemas.Fleet, error) {
	data, err := os.ReadFile(o.copyOf(o.fleet))
	if err != nil {
		return nil, err
	}
	return schemas.ParseFleet(o.fleet, data, read)
}

// copyOf returns the copy that an array has of a file of its settings, else the file.
func (o scanOptions) copyOf(path string) string { return cmp.Or(o.copies[path], path) }

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
