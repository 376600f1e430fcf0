package trend

import (
	"downlock/report/review"
	"downlock/report/trend/tally"
	"downlock/schemas"
)

// FalseEvents gives what tells the events of an archive that review found false,
// nil where none was: those whose last verdict says so and is not outdated. The
// problems are verdicts that cannot be read. The error is one of reading.
func FalseEvents(archive string) (rejected func(eventID string) bool, damaged schemas.Problems, err error) {
	verdicts, damaged, err := review.Latest(archive)
	if err != nil {
		return nil, damaged, err
	}
	for id, v := range verdicts {
		if v.Finding != review.False {
			delete(verdicts, id)
		}
	}
	if len(verdicts) == 0 {
		return nil, damaged, nil
	}
	falseOnes := map[string]bool{}
	err = tally.EachEvent(archive, func(e schemas.EventRow) {
		if v, ok := verdicts[e.EventID]; ok && !v.Outdated(e) {
			falseOnes[e.EventID] = true
		}
	})
	return func(id string) bool { return falseOnes[id] }, damaged, err
}
