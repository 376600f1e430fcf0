package manual

import (
	"fmt"
	"strings"

	"downlock/cmd/downlock/command"
	"downlock/schemas"
)

// page is a manual page in section 1.
type page struct{ name, summary, body string }

// roff returns the page in the language of man(7).
func (p page) roff() string {
	return fmt.Sprintf(".TH %s 1 \"\" \"downlock %s\" \"downlock\"\n.SH NAME\n%s \\- %s\n%s",
		strings.ToUpper(escape(p.name)), command.Version, escape(p.name), escape(p.summary), p.body)
}

// mainPage returns the body of the page on downlock itself: its help, and where to
// read on.
func mainPage(help string, all []command.Description) string {
	var b strings.Builder
	for _, part := range parts(help) {
		part.write(&b)
	}
	b.WriteString(".SH SEE ALSO\n")
	for i, d := range all {
		end := ","
		if i == len(all)-1 {
			end = ""
		}
		fmt.Fprintf(&b, ".BR %s (1)%s\n", escape("downlock-"+d.Name), end)
	}
	return b.String()
}

// subcommandPage returns the body of the page on a subcommand. Its flags stand under
// OPTIONS, all together, and the rest as the help has it.
func subcommandPage(d command.Description) string {
	var b strings.Builder
	options := func() {
		b.WriteString(".SH OPTIONS\n")
		for _, f := range d.Flags {
			b.WriteString(option(f))
		}
		b.WriteString(".TP\n.B \\-\\-help\nflags, defaults and examples\n")
	}
	done := false
	for _, part := range parts(d.Help) {
		if part.flags {
			if !done {
				options()
			}
			done = true
			continue
		}
		part.write(&b)
	}
	if !done {
		options()
	}
	b.WriteString(".SH SEE ALSO\n.BR downlock (1)\n")
	return b.String()
}

// option returns an entry of the list of options.
func option(f command.Flag) string {
	name := "\\fB" + escape("--"+f.Name) + "\\fR"
	if f.Shorthand != "" {
		name = "\\fB" + escape("-"+f.Shorthand) + "\\fR, " + name
	}
	if f.Value != "" {
		name += " \\fI" + escape(f.Value) + "\\fR"
	}
	text := ".TP\n" + name + "\n" + escape(f.Meaning) + "\n"
	if f.Choices != nil {
		text += "(" + escape(strings.Join(f.Choices, ", ")) + ")\n"
	}
	return text
}

// part is a part of a help text, between blank lines.
type part struct {
	title string // "" for a paragraph below the one before
	lines []string
	laid  bool // its lines are laid out by hand, and stay
	flags bool // it explains flags
}

var (
	flagLine = schemas.Pattern(`(?m)^ {2,}(-\w, )? *--[a-z-]+`)
	heading  = schemas.Pattern(`^([^ ].*):$`)
	inline   = schemas.Pattern(`^(usage|exit codes|example|examples): +(\S.*)$`)
)

// parts takes a help text apart.
func parts(help string) (all []part) {
	titled := false
	for _, block := range strings.Split(strings.TrimSpace(help), "\n\n") {
		lines := strings.Split(block, "\n")
		p := part{lines: lines}
		if m := inline().FindStringSubmatch(lines[0]); m != nil {
			p.title, p.lines = m[1], append([]string{m[2]}, lines[1:]...)
		} else if m := heading().FindStringSubmatch(lines[0]); m != nil && len(lines) > 1 && strings.HasPrefix(lines[1], " ") {
			p.title, p.lines = m[1], lines[1:]
		}
		for _, line := range p.lines {
			p.laid = p.laid || strings.HasPrefix(line, " ")
		}
		p.flags = p.title != "" && p.title != "usage" && flagLine().MatchString(p.lines[0])
		switch {
		case p.title == "usage":
			p.title, p.laid = "synopsis", true
		case p.title == "" && !titled:
			p.title = "description"
		}
		titled = titled || p.title == "description"
		all = append(all, p)
	}
	return all
}

// longestHeading bounds the title of a section; a longer one is a sentence.
const longestHeading = 24

// write writes a part in the language of man(7).
func (p part) write(b *strings.Builder) {
	switch {
	case p.title == "":
		b.WriteString(".PP\n")
	case len(p.title) > longestHeading:
		fmt.Fprintf(b, ".PP\n%s:\n", escape(p.title))
	default:
		fmt.Fprintf(b, ".SH %s\n", escape(strings.ToUpper(p.title)))
	}
	if p.laid {
		b.WriteString(".EX\n")
	}
	for _, line := range p.lines {
		b.WriteString(escape(line) + "\n")
	}
	if p.laid {
		b.WriteString(".EE\n")
	}
}

// escape returns a line as roff shows it: a backslash, a minus that can be copied and a
// quotation mark of a command would otherwise mean something else, and so would a dot or
// an apostrophe at its beginning.
func escape(line string) string {
	line = strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`).Replace(line)
	if strings.HasPrefix(line, ".") {
		line = `\&` + line
	}
	return line
}
