package archive

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// withoutChecksums makes an archive one from before there were checksums.
func withoutChecksums(t testing.TB, dir string) {
	t.Helper()
	if err := os.Remove(filepath.Join(dir, checksumsName)); err != nil {
		t.Fatal(err)
	}
	shards, err := filepath.Glob(filepath.Join(dir, ledgerFolder, "*", "*.jsonl"))
	if err != nil || len(shards) == 0 {
		t.Fatal(shards, err)
	}
	for _, shard := range shards {
		text, err := os.ReadFile(shard)
		if err != nil {
			t.Fatal(err)
		}
		text = regexp.MustCompile(`,"check":"[0-9a-f]{8}"}`).ReplaceAll(text, []byte("}"))
		if err := os.WriteFile(shard, text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}
