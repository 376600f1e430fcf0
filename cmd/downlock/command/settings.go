package command

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"downlock/schemas"
)

// SettingsFile is the settings file that is read where none is named and the working
// folder has it.
const SettingsFile = "downlock.yaml"

// settingsSchema is what the entry schema of a settings file must be.
const settingsSchema = "downlock settings 1"

const (
	configFlag     = "config"
	configVariable = "DOWNLOCK_CONFIG"
	origin         = "origin" // annotation of a flag that the settings gave: where
)

const settingsHelp = `
settings:
      --config FILE    read flags that are not given from this file (default: the file
                       that DOWNLOCK_CONFIG names, else downlock.yaml in the working
                       folder, if there is one); --config "" reads no file.
                       The environment (%s) overrides the file, and
                       the command line overrides both: see ` + "`downlock --help`" + `
`

// variable returns the name of the environment variable for a flag of a subcommand.
func variable(subcommand, flag string) string {
	return "DOWNLOCK_" + strings.ToUpper(subcommand+"_"+strings.ReplaceAll(flag, "-", "_"))
}

// applySettings sets the flags that the command line does not give from the environment,
// and those that this does not give either from the settings file. Other code than ExitDone
// says that one of them is wrong, and that it said so.
func applySettings(flags *pflag.FlagSet, say Messages) (code int) {
	if ok := applyEnvironment(flags, os.Environ(), say); !ok {
		return ExitUsage
	}
	path, named := settingsPath(flags)
	if path == "" {
		return ExitDone
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) && !named {
		return ExitDone
	}
	if err == nil {
		err = applyFile(flags, path, data)
	}
	if err != nil {
		say.Failure(err)
		return ExitInvalid
	}
	sayOrigins(flags, path, say)
	return ExitDone
}

// settingsPath returns the settings file to read, "" for none, and whether somebody
// named it.
func settingsPath(flags *pflag.FlagSet) (path string, named bool) {
	if f := flags.Lookup(configFlag); f.Changed {
		return f.Value.String(), true
	}
	if path, set := os.LookupEnv(configVariable); set {
		return path, true
	}
	return SettingsFile, false
}

// applyEnvironment sets flags from variables of the environment, written NAME=VALUE. It
// returns false when one of the subcommand's is no flag or has a wrong value.
func applyEnvironment(flags *pflag.FlagSet, environment []string, say Messages) (ok bool) {
	ok = true
	for _, entry := range environment {
		name, value, _ := strings.Cut(entry, "=")
		if !strings.HasPrefix(name, variable(flags.Name(), "")) {
			continue
		}
		flag := (*pflag.Flag)(nil)
		var known []string
		flags.VisitAll(func(f *pflag.Flag) {
			if f.Name == configFlag {
				return
			}
			known = append(known, variable(flags.Name(), f.Name))
			if variable(flags.Name(), f.Name) == name {
				flag = f
			}
		})
		if flag == nil {
			say.Error("the environment has " + Quote(name) + ", and " + flags.Name() + " has no such flag")
			say.Hint(schemas.Suggest(name, known))
			ok = false
			continue
		}
		values := []string{value}
		if _, several := flag.Value.(pflag.SliceValue); several {
			values = filepath.SplitList(value)
		}
		if err := setFlag(flags, flag, "the environment", values); err != nil {
			say.Error("the environment has " + name + "=" + Quote(value) + ": " + err.Error())
			say.Hint("`downlock " + flags.Name() + " --help` says what --" + flag.Name + " takes")
			ok = false
		}
	}
	return ok
}

// setFlag sets a flag that neither the command line nor a stronger setting gives.
func setFlag(flags *pflag.FlagSet, f *pflag.Flag, from string, values []string) error {
	if f.Changed {
		return nil
	}
	for _, v := range values {
		if err := f.Value.Set(v); err != nil {
			return errors.New(strings.TrimPrefix(err.Error(), "strconv."))
		}
	}
	f.Changed = true
	if f.Annotations == nil {
		f.Annotations = map[string][]string{}
	}
	f.Annotations[origin] = []string{from}
	return nil
}

// sayOrigins notes which flags the settings gave, unless the run is to be quiet: a file that
// happens to lie in the working folder must not change a run without a word.
func sayOrigins(flags *pflag.FlagSet, path string, say Messages) {
	if quiet := flags.Lookup("quiet"); quiet != nil && quiet.Value.String() == "true" {
		return
	}
	var names []string
	flags.VisitAll(func(f *pflag.Flag) {
		if slices.Equal(f.Annotations[origin], []string{path}) {
			names = append(names, f.Name)
		}
	})
	if log := flags.Lookup("log"); log != nil {
		say.To = LogTo(say.To, log.Value.String())
	}
	if len(names) > 0 {
		say.Note("from " + path + ": " + strings.Join(names, ", "))
	}
}

// applyFile sets flags from the text of a settings file. The error is schemas.Problems.
func applyFile(flags *pflag.FlagSet, path string, data []byte) error {
	doc, err := schemas.ParseDocument(path, data)
	if err != nil {
		return err
	}
	var content map[string]any
	if err := doc.Decode(&content); err != nil {
		return err
	}
	var found schemas.Problems
	note := func(p *schemas.Problem) { found = append(found, p) }
	if content["schema"] != settingsSchema {
		note(doc.Problem("/schema", "the file is not a settings file of this version", "begin it with `schema: "+settingsSchema+"`"))
	}
	for name, value := range content {
		switch {
		case name == "schema":
		case !slices.Contains(SubcommandNames(), name):
			hint := schemas.Suggest(name, SubcommandNames())
			if hint == "" {
				hint = "the parts of the file are named after subcommands: " + strings.Join(SubcommandNames(), ", ")
			}
			note(doc.KeyProblem("/"+name, "there is no subcommand "+Quote(name), hint))
		default:
			section, ok := value.(map[string]any)
			if !ok && value != nil {
				note(doc.Problem("/"+name, "the settings of "+name+" have no entries", "write `flag: value` below it, indented"))
			} else if name == flags.Name() {
				found = append(found, applySection(flags, doc, path, section)...)
			}
		}
	}
	if len(found) > 0 {
		return found.InOrder()
	}
	return nil
}

// applySection sets flags from the entries of their subcommand.
func applySection(flags *pflag.FlagSet, doc *schemas.Document, path string, section map[string]any) (found schemas.Problems) {
	for name, value := range section {
		at := "/" + flags.Name() + "/" + name
		flag := flags.Lookup(name)
		if flag == nil || name == configFlag {
			hint := schemas.Suggest(name, flagNames(flags))
			if hint == "" {
				hint = "`downlock " + flags.Name() + " --help` lists the flags"
			}
			found = append(found, doc.KeyProblem(at, flags.Name()+" has no flag "+Quote(name), hint))
			continue
		}
		values, err := settingValues(flag, value)
		if err == nil {
			err = setFlag(flags, flag, path, values)
		}
		if err != nil {
			found = append(found, doc.Problem(at, flags.Name()+"."+name+": "+err.Error(), "`downlock "+flags.Name()+" --help` says what --"+name+" takes"))
		}
	}
	return found
}

// settingValues returns a value of the file as a flag takes it, from one to several.
func settingValues(flag *pflag.Flag, value any) ([]string, error) {
	switch v := value.(type) {
	case nil:
		return nil, errors.New("there is no value")
	case map[string]any:
		return nil, errors.New("one value is needed here, not entries")
	case []any:
		if _, several := flag.Value.(pflag.SliceValue); !several {
			return nil, errors.New("one value is needed here, not a list")
		}
		values := make([]string, len(v))
		for i, one := range v {
			values[i] = fmt.Sprint(one)
		}
		return values, nil
	}
	return []string{fmt.Sprint(value)}, nil
}
