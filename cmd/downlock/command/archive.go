package command

import "downlock/report/archive"

// CheckArchive compares the parts of an archive with its checksums, for a command that
// reads all of them. It prints what is wrong, and returns false where the results would be
// wrong without a word. Doubts are warnings, and are returned for the top of the results.
func CheckArchive(dir string, quiet bool, say Messages) (doubts []string, ok bool) {
	problems, listed, err := archive.Check(dir)
	if err != nil {
		say.Failure(err)
		return nil, false
	}
	for _, p := range problems {
		say.Doubt(p)
		doubts = append(doubts, p.Error())
	}
	if !listed && !quiet {
		say.Note(dir + ": the archive has no checksums yet, so a missing part is not noticed; the next scan that adds to it makes them")
	}
	return doubts, true
}
