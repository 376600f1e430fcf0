package main

import (
	"fmt"
	"io"

	"downlock/detect"
	"downlock/ingest"
)

// tryRule takes one rule apart on one recording.
func tryRule(o rulesOptions, rule *detect.Rule, set *detect.RuleSet, stdout io.Writer, say messages) int {
	profile, code := chooseProfile(scanOptions{profile: o.profile}, []string{o.try}, say)
	if profile == nil {
		return code
	}
	detector, err := detect.New(profile, set)
	if err != nil {
		say.failure(err)
		return exitInvalid
	}
	recording, err := ingest.Read(o.try, profile)
	if err != nil {
		say.failure(err)
		return exitInputsFailed
	}
	between, err := parseBetween(o.between)
	if err != nil {
		say.failure(err)
		return exitUsage
	}
	trials := detector.Try(recording, rule, between)
	if len(trials) == 0 {
		return sayNoTrial(o, detector, recording, say)
	}
	for i, t := range trials {
		if i > 0 {
			fmt.Fprintln(stdout)
		}
		writeTrial(stdout, rule, t)
	}
	return exitDone
}

// sayNoTrial says why there is nothing to show.
func sayNoTrial(o rulesOptions, detector *detect.Detector, recording *ingest.Recording, say messages) int {
	if o.between != "" {
		say.error(fmt.Sprintf("%s: no flight has time in %s; the recording runs from %.3f to %.3f s", o.try, o.between, recording.Start, recording.End))
		say.hint("leave out --between to see the flights")
		return exitUsage
	}
	note, err := detector.WhyNoFlight(recording)
	if err != nil {
		say.failure(err)
		return exitInputsFailed
	}
	say.note(o.try + ": " + note)
	return exitDone
}
