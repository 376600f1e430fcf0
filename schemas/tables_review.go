package schemas

import "time"

// VerdictsTable is the table of verdicts on events. It is one part, of all months,
// made of what reviewers wrote; the rule for changing tables goes for it too.
const (
	VerdictsTable   = "verdicts"
	VerdictsVersion = 1
)

// VerdictRow is one verdict on one event; events joined by event_id give it its
// rule and severity.
type VerdictRow struct {
	EventID  string    `parquet:"event_id,dict"`
	Month    string    `parquet:"month,dict"`   // of the event; empty where it is gone
	Verdict  string    `parquet:"verdict,dict"` // valid, false or follow-up
	Cause    string    `parquet:"cause"`
	Comment  string    `parquet:"comment"`
	By       string    `parquet:"by,dict"`
	AtUTC    time.Time `parquet:"at_utc,timestamp(millisecond)"`
	Latest   bool      `parquet:"latest"`   // the one that counts
	Outdated bool      `parquet:"outdated"` // the event has changed since
	Gone     bool      `parquet:"gone"`     // the archive no longer has the event
}
