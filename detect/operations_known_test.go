package detect_test

// knownWrong lists the rows and recordings that are not right yet, each with its
// reason. It shrinks as they are put right.
var knownWrong = map[string]string{}
