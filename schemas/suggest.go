package schemas

import "fmt"

// Suggest returns a hint with the known name nearest to the written one, or "" when
// none is near.
func Suggest(written string, known []string) string {
	best, distance := "", 1+len(written)/3
	for _, name := range known {
		if d := editDistance(written, name); d <= distance {
			best, distance = name, d-1
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("did you mean %s?", best)
}

// editDistance counts insertions, deletions and replacements (Levenshtein).
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		corner := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			replace := corner
			if a[i-1] != b[j-1] {
				replace++
			}
			corner = row[j]
			row[j] = min(row[j]+1, row[j-1]+1, replace)
		}
	}
	return row[len(b)]
}
