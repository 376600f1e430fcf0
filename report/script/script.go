// Package script holds the scripts of the pages, and makes the content security policy
// that lets a page run these and no other.
//
// A page holds its scripts in itself. Each is a constant text without any data of a
// flight; it reads data from elements of the page. Nothing here loads or sends anything.
package script

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"slices"
	"strings"
)

// Viewer draws the samples in a flight's page: zoom, one cursor through all strips, the
// values there, samples as CSV, drawings as SVG and PNG. It reads the elements
// #viewer-data (JSON) and #samples (base64 of gzip, see package report).
//
//go:embed viewer.js
var Viewer string

// Table sorts and filters the tables of a page that have the class "sift". The filter is
// in the fragment of the address.
//
//go:embed table.js
var Table string

// Chart shows the values of a chart at a cursor, by mouse and by keys. It reads them from
// the table below the chart, details.values.
//
//go:embed chart.js
var Chart string

// Policy is the content security policy of a page that holds these scripts. The viewer
// turns a drawing into a PNG by way of an image of data.
func Policy(scripts ...string) string {
	policy := "default-src 'none'; style-src 'unsafe-inline'"
	var hashes []string
	for _, s := range scripts {
		sum := sha256.Sum256([]byte(s))
		hashes = append(hashes, "'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'")
	}
	if len(hashes) > 0 {
		policy += "; script-src " + strings.Join(hashes, " ")
	}
	if slices.Contains(scripts, Viewer) {
		policy += "; img-src data:"
	}
	return policy
}
