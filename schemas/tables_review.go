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

// ActionsTable is the table of actions on events beside the verdict: who looks after
// them, until when, referral to maintenance, contact with the crew. It is one part, made
// of the files in reviews as the table of verdicts is. An archive in which no action was
// ever noted has none.
const (
	ActionsTable   = "actions"
	ActionsVersion = 1
)

// ActionRow is one action on one event, noted once.
type ActionRow struct {
	EventID      string    `parquet:"event_id,dict"`
	Month        string    `parquet:"month,dict"`  // of the event; empty where the event is gone
	Action       string    `parquet:"action,dict"` // assigned-to, due, maintenance or crew-contact
	Value        string    `parquet:"value,dict"`  // a role or initials; a date; yes or no; none takes one back
	By           string    `parquet:"by,dict"`
	AtUTC        time.Time `parquet:"at_utc,timestamp(millisecond)"`
	Latest       bool      `parquet:"latest"`                      // the one that counts of this event and action
	Gone         bool      `parquet:"gone"`                        // the archive no longer has the event
	OccurrenceID string    `parquet:"occurrence_id,optional,dict"` // of the event; null where the event is gone
	File         string    `parquet:"file"`                        // its name, so that a lost one can be made again
}
