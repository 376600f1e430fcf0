package detect_test

// wrong is something that is not right yet in a row of ordinary operations or in a
// recording: fault is part of the lines that say so, why the reason.
type wrong struct{ name, fault, why string }

// knownWrong shrinks as things are put right.
var knownWrong = []wrong{}
