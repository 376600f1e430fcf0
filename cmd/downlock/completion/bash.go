package completion

import (
	"fmt"
	"strings"

	"downlock/cmd/downlock/command"
)

// bash returns the script for bash, 4 and later. It needs no library of completions.
func bash(all []command.Description) string {
	var b strings.Builder
	b.WriteString(`# completions of downlock for bash, written by ` + "`downlock completion bash`" + `
_downlock() {
	local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} words=
	COMPREPLY=()
	# bash makes three words of --flag=value
	if [[ $cur == = ]]; then cur=
	elif [[ $prev == = ]]; then prev=${COMP_WORDS[COMP_CWORD-2]}
	fi
	if ((COMP_CWORD == 1)); then
`)
	fmt.Fprintf(&b, "\t\t_downlock_offer -W %s\n\t\treturn\n\tfi\n", quoted(strings.Join(append(names(all), "--help", "--version"), " ")))
	b.WriteString("\tcase ${COMP_WORDS[1]}:$prev in\n")
	for _, d := range all {
		of := map[valueKind][]string{}
		for _, f := range d.Flags {
			kind := kindOf(f)
			var patterns []string
			for _, s := range spellings(f) {
				patterns = append(patterns, d.Name+":"+s)
			}
			if kind == oneOf {
				fmt.Fprintf(&b, "\t%s) words=%s ;;\n", strings.Join(patterns, "|"), quoted(strings.Join(f.Choices, " ")))
				continue
			}
			of[kind] = append(of[kind], patterns...)
		}
		for _, end := range []struct {
			kind valueKind
			do   string
		}{{file, "_downlock_names -f; return"}, {folder, "_downlock_names -d; return"}, {anyText, "return"}} {
			if patterns := of[end.kind]; patterns != nil {
				fmt.Fprintf(&b, "\t%s) %s ;;\n", strings.Join(patterns, "|"), end.do)
			}
		}
	}
	b.WriteString("\tesac\n\tif [[ -z $words && ( $cur == -* || $COMP_CWORD -eq 2 ) ]]; then\n\t\tcase ${COMP_WORDS[1]} in\n")
	for _, d := range all {
		words := d.Words
		for _, f := range d.Flags {
			words = append(words[:len(words):len(words)], "--"+f.Name)
		}
		fmt.Fprintf(&b, "\t\t%s) words=%s ;;\n", d.Name, quoted(strings.Join(append(words[:len(words):len(words)], "--help"), " ")))
	}
	b.WriteString(`		esac
	fi
	[[ -z $words ]] || _downlock_offer -W "$words"
	if [[ $cur != -* && ${#COMPREPLY[@]} -eq 0 || $COMP_CWORD -eq 2 && -n $cur && $cur != -* ]]; then _downlock_names -f; fi
}
_downlock_names() {
	compopt -o filenames 2>/dev/null
	_downlock_offer "$1"
}
_downlock_offer() {
	local found lines
	found=$(compgen "$@" -- "$cur") || return
	mapfile -t lines <<<"$found"
	COMPREPLY+=("${lines[@]}")
}
complete -F _downlock downlock
`)
	return b.String()
}

func names(all []command.Description) (names []string) {
	for _, d := range all {
		names = append(names, d.Name)
	}
	return names
}
