package command

// Subcommand is one of the things downlock does.
type Subcommand struct {
	Name, Arguments, Summary string
	Words                    []string // words its first argument may be; nil where it is a name of the user's
}

// Subcommands lists the subcommands in the order of the help. The package main has the
// function of each.
var Subcommands = []Subcommand{
	{"scan", "[flags] INPUT...", "read exports, write a report for every flight", nil},
	{"inspect", "FILE...", "describe an export; suggest a profile", nil},
	{"columns", "INPUT --out F", "parameters as downlock understood them, for pandas, DuckDB and R", nil},
	{"demo", "DIR", "write the invented demo exports into DIR", nil},
	{"rules", "[ID]", "list the rules, or explain one", nil},
	{"trend", "--archive DIR", "what is getting worse, by month and by aircraft", nil},
	{"review", "--archive DIR", "verdicts of analysts on events, and actions", []string{"show", "set", "clip", "carry"}},
	{"verify", "--archive DIR", "find what is damaged or missing in an archive; repair it", nil},
	{"desk", "--archive DIR", "a web page for reviewing the archive", nil},
	{"prune", "--older-than 90d", "remove old reports", nil},
	{"plan", "--tasks N INPUT...", "plan a scan for many machines to share", nil},
	{"merge", "--run RUN", "put the results of that scan into the archive", nil},
	{"completion", "SHELL", "command-line completion for bash, zsh or fish", []string{"bash", "zsh", "fish"}},
	{"man", "DIR", "write the manual pages into DIR", nil},
	{"notices", "", "licences of the libraries that are part of downlock", nil},
}

// SubcommandNames lists the names of the subcommands.
func SubcommandNames() []string {
	names := make([]string, len(Subcommands))
	for i, s := range Subcommands {
		names[i] = s.Name
	}
	return names
}
