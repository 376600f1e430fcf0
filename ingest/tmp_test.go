package ingest

import (
	"fmt"
	"testing"
)

func TestTmp(t *testing.T) {
	for _, f := range []string{"flight-2.csv.gz", "flight-2-long.csv.gz"} {
		r := readX100(t, f, "profile.yaml")
		fmt.Println(r.Name, r.SHA256, r.Bytes, r.Format, r.Epoch, r.Start, r.End, r.Absent, r.Notes)
		for _, s := range r.Series {
			fmt.Println(s.Parameter.Name, s.Column, s.Len(), s.Interval, s.Gap, s.Dropped)
		}
	}
}
