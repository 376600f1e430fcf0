package detect_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// layers in the order imports may run: each may import those before it.
var layers = []string{"schemas", "ingest", "detect", "report", "cmd"}

// goFolders lists the folders with Go files below the module root, and their
// files, tests left out.
func goFolders(t *testing.T) map[string][]string {
	t.Helper()
	folders := map[string][]string{}
	err := fs.WalkDir(os.DirFS(".."), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || path != "." && strings.HasPrefix(d.Name(), ".")) {
			return fs.SkipDir
		}
		if strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
			folders[filepath.Dir(path)] = append(folders[filepath.Dir(path)], filepath.Join("..", path))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, layer := range layers[:4] {
		if len(folders[layer]) == 0 {
			t.Fatalf("no Go file in %s", layer)
		}
	}
	return folders
}

func layerOf(folder string) int {
	first, _, _ := strings.Cut(folder, "/")
	return slices.Index(layers, first)
}

// TestImportsRunOneWay: schemas <- ingest <- detect <- report <- cmd.
func TestImportsRunOneWay(t *testing.T) {
	t.Parallel()
	for folder, files := range goFolders(t) {
		for _, file := range files {
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
			if err != nil {
				t.Errorf("%v", err)
				continue
			}
			for _, i := range parsed.Imports {
				path, _ := strconv.Unquote(i.Path.Value)
				imported, ours := strings.CutPrefix(path, "downlock/")
				if ours && layerOf(imported) > layerOf(folder) {
					t.Errorf("%s imports %s; imports run %s", file, path, strings.Join(layers, " <- "))
				}
				if path == "log" && layerOf(folder) < layerOf("cmd") {
					t.Errorf("%s imports log; only cmd speaks to the user", file)
				}
			}
		}
	}
}

// floorImports lists, for each package of a floor, the packages of the same floor it may
// import; the floors below are open to it. A package that is missing here may import
// none of its floor.
var floorImports = map[string][]string{
	"schemas":            {"schemas/jsonschema"},
	"schemas/schematest": {"schemas"},
	"ingest":             {"ingest/accuracy", "ingest/compact", "ingest/matlab", "ingest/objects", "ingest/parquet", "ingest/workbook"},
	"ingest/simulator":   {"ingest/export"},
	"ingest/survey":      {"ingest", "ingest/accuracy"},
	"detect":             {"detect/language", "detect/readings", "detect/samples", "detect/soundness"},
	"detect/language":    {"detect/readings"},
	"detect/rulecase":    {"detect"},
	"detect/samples":     {"detect/readings"},
	"detect/soundness":   {"detect/readings", "detect/samples"},
	"report":             {"report/identity", "report/output", "report/script", "report/svg"},
	"report/archive":     {"report/identity", "report/output", "report/review"},
	"report/desk": {"report", "report/archive", "report/identity", "report/review", "report/svg", "report/trend",
		"report/trend/statistics", "report/trend/tally"},
	"report/review": {"report/output"},
	"report/trend": {"report", "report/archive", "report/output", "report/review", "report/script", "report/svg",
		"report/trend/statistics", "report/trend/tally"},
	"report/trend/fleet": {"report/trend/tally"},
	"cmd/downlock": {"cmd/downlock/columns", "cmd/downlock/command", "cmd/downlock/completion", "cmd/downlock/demo", "cmd/downlock/desk", "cmd/downlock/inspect",
		"cmd/downlock/manual", "cmd/downlock/notices", "cmd/downlock/prune", "cmd/downlock/review", "cmd/downlock/rules", "cmd/downlock/scan", "cmd/downlock/topics",
		"cmd/downlock/trend", "cmd/downlock/verify"},
	"cmd/downlock/completion": {"cmd/downlock/command"},
	"cmd/downlock/manual":     {"cmd/downlock/command"},
	"cmd/downlock/notices":    {"cmd/downlock/command"},
	"cmd/downlock/columns":    {"cmd/downlock/command"},
	"cmd/downlock/demo":       {"cmd/downlock/command"},
	"cmd/downlock/desk":       {"cmd/downlock/command", "cmd/downlock/command/early", "cmd/downlock/scan"},
	"cmd/downlock/inspect":    {"cmd/downlock/command"},
	"cmd/downlock/prune":      {"cmd/downlock/command"},
	"cmd/downlock/review":     {"cmd/downlock/command", "cmd/downlock/scan"},
	"cmd/downlock/rules":      {"cmd/downlock/command"},
	"cmd/downlock/scan":       {"cmd/downlock/command", "cmd/downlock/command/early"},
	"cmd/downlock/topics":     {"cmd/downlock/command"},
	"cmd/downlock/trend":      {"cmd/downlock/command"},
	"cmd/downlock/verify":     {"cmd/downlock/command"},
}

// TestImportsWithinAFloor: packages of one floor import each other as floorImports says, and
// floorImports lists no import that is not there.
func TestImportsWithinAFloor(t *testing.T) {
	t.Parallel()
	used := map[string][]string{}
	for folder, files := range goFolders(t) {
		if layerOf(folder) < 0 {
			continue
		}
		for _, file := range files {
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
			if err != nil {
				t.Fatal(err)
			}
			for _, i := range parsed.Imports {
				path, _ := strconv.Unquote(i.Path.Value)
				imported, ours := strings.CutPrefix(path, "downlock/")
				if !ours || layerOf(imported) != layerOf(folder) {
					continue
				}
				used[folder] = append(used[folder], imported)
				if !slices.Contains(floorImports[folder], imported) {
					t.Errorf("%s imports %s, which its list of packages does not allow", file, path)
				}
			}
		}
	}
	for folder, allowed := range floorImports {
		for _, imported := range allowed {
			if !slices.Contains(used[folder], imported) {
				t.Errorf("%s does not import %s, which its list of packages names", folder, imported)
			}
		}
	}
}

// TestEveryPackageSaysWhatItIs: one file of each package has a comment that
// touches its package line; a blank line between would hide it from every tool.
func TestEveryPackageSaysWhatItIs(t *testing.T) {
	t.Parallel()
	for folder, files := range goFolders(t) {
		documented := false
		for _, file := range files {
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ParseComments|parser.PackageClauseOnly)
			if err != nil {
				t.Errorf("%v", err)
				continue
			}
			if parsed.Doc == nil {
				continue
			}
			documented = true
			if want := "Package " + parsed.Name.Name + " "; parsed.Name.Name != "main" && !strings.HasPrefix(parsed.Doc.Text(), want) {
				t.Errorf("%s: the package comment does not begin with %q", file, want)
			}
		}
		if !documented {
			t.Errorf("%s has no package comment", folder)
		}
	}
}
