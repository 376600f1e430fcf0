package trend

import (
	"errors"
	"testing"

	"downlock/schemas"
)

// Whatever the bytes, the outcome is indicators that can be judged, or problems.
func FuzzParseIndicators(f *testing.F) {
	tr, err := New(one([2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1}, [2]int{1, 1}), Options{Level: 0.05, Correction: Holm})
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range []string{
		"{id: a, rule: gear-late, severity: [high], target: 1}",
		"{id: a, rule: gear-late, period: quarter, current: 1, preceding: 1, target_change: -10}",
		"{id: a, measurement: retraction-time-left, quantile: 0.95, alert_level: 9.5}",
		"{id: a, measurement: touchdown-acceleration, beyond: 1.6, worse: below}",
		"{id: a, rule: gear-late, target: .nan, current: 1000000000}",
	} {
		f.Add([]byte("schema: downlock indicators 1\nindicators:\n  - " + text + "\n"))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		in, err := tr.parseIndicators("f.yaml", text)
		var problems schemas.Problems
		if err != nil {
			if !errors.As(err, &problems) || len(problems) == 0 || problems[0].Cause == "" {
				t.Errorf("an error that is no problems: %v", err)
			}
			return
		}
		if len(in.Indicators) == 0 || len(tr.Judge(in)) != len(in.Indicators) {
			t.Errorf("%d indicators, %d judged", len(in.Indicators), len(tr.Judge(in)))
		}
	})
}
