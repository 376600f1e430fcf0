package rules

import (
	"fmt"
	"io"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/ingest"
)

// tryRule takes one rule apart on one recording.
func tryRule(o rulesOptions, rule *detect.Rule, set *detect.RuleSet, stdout io.Writer, say command.Messages) int {
	profile, code := command.ChooseProfile(o.profile, []string{o.try}, nil, say)
	if profile == nil {
		return code
	}
	detector, err := detect.New(profile, set)
	if err != nil {
		say.Failure(err)
		return command.ExitInvalid
	}
	recording, err := ingest.Read(o.try, profile)
	if err != nil {
		say.Failure(err)
		return command.ExitInputsFailed
	}
	between, err := parseBetween(o.between)
	if err != nil {
		say.Failure(err)
		return command.ExitUsage
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
	return command.ExitDone
}

// sayNoTrial says why no flight can be shown.
func sayNoTrial(o rulesOptions, detector *detect.Detector, recording *ingest.Recording, say command.Messages) int {
	if o.between != "" {
		say.Error(fmt.Sprintf("%s: no flight has time in %s; the recording runs from %.3f to %.3f s", o.try, o.between, recording.Start, recording.End))
		say.Hint("leave out --between to see the flights")
		return command.ExitUsage
	}
	note, err := detector.WhyNoFlight(recording)
	if err != nil {
		say.Failure(err)
		return command.ExitInputsFailed
	}
	say.Note(o.try + ": " + note)
	return command.ExitDone
}
