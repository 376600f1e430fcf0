package inspect

import (
	"os"

	"downlock/detect"
	"downlock/ingest/survey"
	"downlock/schemas"
)

// draft writes the profile to start from. Where it can be read as it stands, it is
// written again with the entries left to decide in the order of the rules they open.
func (i *inspection) draft(from source, found *survey.Survey, suggestions []survey.Suggestion) (string, error) {
	if i.options.like != "" {
		data, err := os.ReadFile(i.options.like)
		if err != nil {
			return "", err
		}
		return found.DraftLike(suggestions, i.options.like, data)
	}
	text, err := found.Draft(suggestions)
	if err != nil {
		return "", err
	}
	profile, err := schemas.ParseProfile(from.path, []byte(text))
	if err != nil {
		return text, nil // only guesses: the user has to choose first
	}
	rules, err := detect.LoadRules()
	if err != nil {
		return "", err
	}
	detector, err := detect.New(profile, rules)
	if err != nil {
		return "", err
	}
	recording, err := from.read(profile)
	if err != nil {
		return text, nil // a decision about its time comes first; the draft has it
	}
	trial := inspection{profile: profile, rules: rules, detector: detector}
	groups, err := trial.openDecisions(recording, ruleParts(detector.Detect(recording)))
	if err != nil {
		return "", err
	}
	var openings []survey.Opening
	for _, g := range groups {
		openings = append(openings, survey.Opening{Fill: g.Fill, Said: g.told(), Rules: g.Opens})
	}
	return found.Draft(suggestions, openings...)
}
