//go:build linux

package scan

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"downlock/testdata/effort"
)

// BenchmarkNight scans a night of 2,000 twenty-minute flights, 200 in a short run, into an archive,
// in a process of its own for the peak memory, then again, when all is skipped and
// no byte changes, beside encoding/csv merely reading the same files on as many
// cores. A quarter of the night, and the night with reports, show what memory
// depends on.
//
// `BenchmarkNight` scans 2,000 flights in a process of its own beside `encoding/csv` reading the same files. In processor time,
// which other programs disturb least, the night took 1.2 times as long as the bare reading, and 1.9 times with reports; with 93
// rules 1.6 and 2.5 times, at a peak of 143 and 155 MiB. The peak before
// was 134 MiB, 139 with reports, and 91 for a quarter of the flights; 2,000, 4,000 and 8,000 flights of 70 kB each took 133, 153 and
// 170 MiB. What grows are the row groups until they are full, and then a few kilobytes an input: plans, names, lines of the index.
func BenchmarkNight(b *testing.B) {
	nightFlights := effort.Of(200, 2000, 2000)
	n := newNights(b, nightFlights)
	files, size := filesBelow(b, n.exports)
	whole := filepath.Join(b.TempDir(), "archive")
	night := func(b *testing.B, n nights, archive string, words string, more ...string) {
		cmd, messages := n.scan(archive, more...)
		cmd.Run()
		if text := messages.String(); !strings.Contains(text, words) {
			b.Fatalf("not %q: %s", words, text)
		}
		if kib := peakMemory(cmd.ProcessState.SysUsage()); kib > 0 {
			b.ReportMetric(float64(kib)/1024, "MiB-peak")
		}
		// Of all cores together: a figure other programs on the machine disturb less.
		b.ReportMetric((cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds(), "cpu-s")
	}
	once := func(flights int) string {
		return fmt.Sprintf("%d flights from %d inputs, 1 failed, 0 skipped", flights-1, flights)
	}
	perSecond := func(b *testing.B, unit string) {
		b.ReportMetric(float64(nightFlights*b.N)/b.Elapsed().Seconds(), unit)
	}
	b.Run("downlock", func(b *testing.B) {
		b.SetBytes(size)
		for i := range b.N {
			archive := whole
			if i > 0 {
				archive = filepath.Join(b.TempDir(), "archive")
			}
			night(b, n, archive, once(nightFlights))
		}
		perSecond(b, "flights/s")
	})
	b.Run("skipped", func(b *testing.B) {
		before := archiveFiles(b, whole)
		b.ResetTimer()
		for range b.N {
			night(b, n, whole, fmt.Sprintf("0 flights from %d inputs, 1 failed, %d skipped", nightFlights, nightFlights-1))
		}
		perSecond(b, "files/s")
		b.StopTimer()
		sameArchive(b, "the second run", archiveFiles(b, whole), before)
	})
	b.Run("quarter", func(b *testing.B) {
		quarter := newNights(b, nightFlights/4)
		b.ResetTimer()
		for range b.N {
			night(b, quarter, filepath.Join(b.TempDir(), "archive"), once(nightFlights/4))
		}
	})
	b.Run("with_reports", func(b *testing.B) {
		for range b.N {
			night(b, n, filepath.Join(b.TempDir(), "archive"), once(nightFlights), "--out", filepath.Join(b.TempDir(), "reports"))
		}
		perSecond(b, "flights/s")
	})
	b.Run("encoding_csv", func(b *testing.B) {
		b.SetBytes(size)
		before := processorTime()
		for range b.N {
			forEach(files, 2, readRecords, func(err error) bool {
				if err != nil {
					b.Fatal(err)
				}
				return true
			})
		}
		perSecond(b, "files/s")
		b.ReportMetric((processorTime()-before).Seconds()/float64(b.N), "cpu-s")
	})
}

// processorTime returns the time this process has used of all cores together.
func processorTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func filesBelow(b *testing.B, dir string) (files []string, size int64) {
	b.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		b.Fatal(err)
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil {
			b.Fatal(err)
		}
		files, size = append(files, filepath.Join(dir, e.Name())), size+info.Size()
	}
	return files, size
}

// readRecords is readCSV for files with a remark of one cell before the header.
func readRecords(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.ReuseRecord, in.FieldsPerRecord = true, -1
	for err == nil {
		_, err = in.Read()
	}
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// peakMemory is the most memory a process that ended had, in KiB.
func peakMemory(usage any) int64 {
	if u, ok := usage.(*syscall.Rusage); ok {
		return u.Maxrss
	}
	return 0
}
