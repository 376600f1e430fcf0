package schemas

import "time"

// VerdictsTable is the table of reviewers' verdicts on events. It is one part for all
// months. The rule for changing tables applies to it too.
const (
	VerdictsTable   = "verdicts"
	VerdictsVersion = 3
)

// VerdictRow is one verdict on one event. A join by event_id adds the event's rule
// and severity.
type VerdictRow struct {
	EventID  string    `parquet:"event_id,dict"`
	Month    string    `parquet:"month,dict"`   // of the event; empty where the event is gone
	Verdict  string    `parquet:"verdict,dict"` // valid, false or follow-up
	Cause    string    `parquet:"cause"`
	Comment  string    `parquet:"comment"`
	By       string    `parquet:"by,dict"`
	AtUTC    time.Time `parquet:"at_utc,timestamp(millisecond)"`
	Latest   bool      `parquet:"latest"`   // the one that counts
	Outdated bool      `parquet:"outdated"` // the event has changed since
	Gone     bool      `parquet:"gone"`     // the archive no longer has the event
	// Since version 2: that of the event; null where the event is gone, or was written
	// before occurrences were noted.
	OccurrenceID string `parquet:"occurrence_id,optional,dict"`
	// Since version 3: the name of the verdict's file, and the evidence in it, so that a
	// lost file can be made again. A row whose file is lost stays, and is never the latest.
	File     string `parquet:"file,optional"`
	Evidence string `parquet:"evidence,optional"`
}
