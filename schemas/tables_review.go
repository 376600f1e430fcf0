package schemas

import "time"

// VerdictRow is one verdict on one event, in the table `downlock review --export`
// writes; events joined by event_id give it its rule and severity.
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
