package schemas

// Caution is the caution that tables state in one line: every row of a CSV has it in
// CautionColumn, the last, since a line of comment keeps common readers from the header;
// Parquet has it in its metadata under CautionKey. Pages and JSON say more.
const (
	Caution       = "Supports a monitoring programme; replaces no approved manual, local rule or licensed staff; no airworthiness decision, no finding about a person."
	CautionColumn = "general_caution"
	CautionKey    = "downlock.caution"
)
