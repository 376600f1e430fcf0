package archive

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// maxFigures bounds the file of a run's figures that is read: a hundred thousand failures.
const maxFigures = 64 << 20

// Figures hands out the figures of the last runs, the newest first, as the bytes of their
// files, after schemas/batch.schema.json. What is no run is left out. The error is each's
// own, or one of reading the folder.
func Figures(dir string, most int, each func(figures []byte) error) error {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	entries, err := fs.ReadDir(root.FS(), runsFolder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	slices.Reverse(entries)
	for _, e := range entries {
		stamp, _, _ := strings.Cut(e.Name(), "~")
		if _, err := time.Parse(runTime, stamp); err != nil || most == 0 {
			continue
		}
		figures, err := readBounded(root, filepath.Join(runsFolder, e.Name(), batchName), maxFigures)
		if err != nil {
			continue
		}
		most--
		if err := each(figures); err != nil {
			return err
		}
	}
	return nil
}

func readBounded(root *os.Root, name string, most int64) ([]byte, error) {
	f, err := root.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(text)) > most {
		err = errors.New("it is too long")
	}
	return text, err
}
