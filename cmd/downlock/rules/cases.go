package rules

import (
	"fmt"
	"io"
	"os"
	"strings"

	"downlock/cmd/downlock/command"
	"downlock/detect"
	"downlock/detect/rulecase"
	"downlock/schemas"
)

// maxCaseFile is the largest size of a file of rule cases in bytes. The largest of
// ours has a tenth of it.
const maxCaseFile = 1 << 20

// testRules runs files of rule cases. It runs nothing when it cannot read one of the
// files.
func testRules(o rulesOptions, files []string, set *detect.RuleSet, stdout io.Writer, say command.Messages) int {
	profile, err := rulesProfile(o)
	if err != nil {
		say.Failure(err)
		return command.ExitInvalid
	}
	var cases []*rulecase.Case
	code := command.ExitDone
	for _, file := range files {
		some, err := readCases(file, set.Own)
		if err != nil {
			say.Failure(err)
			code = command.ExitInvalid
		}
		cases = append(cases, some...)
	}
	if code != command.ExitDone {
		return code
	}
	failed := 0
	for _, c := range cases {
		differences, err := c.Run(profile, set)
		if err != nil {
			say.Failure(err)
			code = command.ExitInvalid
		}
		if len(differences) > 0 || err != nil {
			failed++
			writeDifferences(stdout, c, differences)
			if err == nil {
				writeParts(stdout, c, profile, set)
			}
		}
	}
	fmt.Fprintf(stdout, "%s, %d failed\n", command.Count(len(cases), "case"), failed)
	if failed > 0 && code == command.ExitDone {
		code = command.ExitInputsFailed
	}
	return code
}

func readCases(file string, own []schemas.Parameter) ([]*rulecase.Case, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, err
	}
	if info.Size() > maxCaseFile || !info.Mode().IsRegular() {
		return nil, &schemas.Problem{File: file, Cause: fmt.Sprintf("is not a file of at most %d bytes", maxCaseFile), Hint: "name files of rule cases one by one"}
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	return rulecase.Parse(file, data, own...)
}

// rulesProfile returns the profile of the command line, or the shipped one.
func rulesProfile(o rulesOptions) (*schemas.Profile, error) {
	if o.profile != "" {
		return schemas.ReadProfile(o.profile)
	}
	return schemas.ShippedProfile()
}

func writeDifferences(to io.Writer, c *rulecase.Case, differences []string) {
	fmt.Fprintf(to, "FAILED %s: %s\n", oneLine(c.File), oneLine(c.Name))
	if c.Why != "" {
		fmt.Fprintf(to, "  why: %s\n", oneLine(c.Why))
	}
	for _, d := range differences {
		fmt.Fprintf(to, "  %s\n", strings.ReplaceAll(command.Printable(d), "\n", "\n  "))
	}
}

// writeParts takes the rules apart whose events are not those of the case, as --try does.
func writeParts(to io.Writer, c *rulecase.Case, profile *schemas.Profile, set *detect.RuleSet) {
	all, err := c.Parts(profile, set)
	if err != nil { // the case has run, so that this cannot be
		return
	}
	for _, p := range all {
		for _, t := range p.Trials {
			fmt.Fprintln(to)
			writeTrial(to, p.Rule, t)
		}
		fmt.Fprintln(to)
	}
}
