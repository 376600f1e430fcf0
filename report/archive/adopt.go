package archive

// Adopt gives an archive whose tables were written otherwise than by a run, such as the
// invented one of the demonstration, what a run would have left beside them: the list of
// checksums and the table of verdicts.
func Adopt(dir string, share bool) error {
	lock, err := lockArchive(dir, share, "")
	if err != nil {
		return err
	}
	a := &Archive{dir: dir, run: &Run{Share: share}, disk: realDisk{share}, lock: lock}
	defer a.Close()
	if err := a.change(&changeover{}); err != nil {
		return outputError(dir, err)
	}
	_, err = a.KeepVerdicts()
	return outputError(dir, err)
}
