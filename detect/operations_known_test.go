package detect_test

import (
	"fmt"

	"downlock/detect"
)

// wrong is something that is not right yet in a row of ordinary operations or in a
// recording: fault is part of the lines that say so, why the reason.
type wrong struct{ name, fault, why string }

// wrongRecordings are those of testdata/operations. It shrinks as things are put right.
var wrongRecordings = []wrong{}

// knownWrong lists them with the rows of coverage.yaml.
func knownWrong() []wrong {
	all := wrongRecordings
	for i, o := range detect.OrdinaryOperations() {
		for _, f := range o.Faults {
			all = append(all, wrong{fmt.Sprintf("row %d", i+1), f.Fault, f.Why})
		}
	}
	return all
}
