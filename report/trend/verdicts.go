package trend

import (
	"downlock/report/archive"
	"downlock/report/review"
	"downlock/schemas"
)

// FalseEvents returns what tells the events of an archive that review found false,
// nil where none was: those whose last verdict says so and is not outdated. The
// problems are verdicts that cannot be read. The error is one of reading.
func FalseEvents(dir string) (rejected func(eventID string) bool, damaged schemas.Problems, err error) {
	rows, damaged, err := archive.Verdicts(dir)
	falseOnes := map[string]bool{}
	for _, v := range rows {
		if v.Latest && !v.Outdated && v.Verdict == string(review.False) {
			falseOnes[v.EventID] = true
		}
	}
	if err != nil || len(falseOnes) == 0 {
		return nil, damaged, err
	}
	return func(id string) bool { return falseOnes[id] }, damaged, nil
}
