package scan

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/ingest"
	"downlock/report"
	"downlock/report/archive"
	"downlock/schemas"
)

const planHelp = `usage: downlock plan [flags] --archive DIR --profile FILE --tasks N INPUT...
       downlock plan --show RUN

Plans the scan of more inputs than one machine can read in time, for the array jobs
of a scheduler that you run: Slurm, Kubernetes Indexed Jobs, a cloud's batch arrays.
All machines need the inputs and the archive under the same paths, as on a shared file
system. Inputs may also be in an object store (s3://BUCKET/PREFIX, see
` + "`downlock help exports`" + `); each machine then needs its address and a key. It lists the
inputs once, leaves out those that have not changed since the archive recorded them, and
divides the others among the tasks. It prints the folder of the plan, RUN, which is
DIR/arrays/ and the time. It prints nothing if there is nothing to scan. Then

  downlock scan --run RUN --task I     once for each I from 0 to N-1, on any machine
  downlock merge --run RUN             once, when the tasks have ended

The plan holds copies of profiles, rules and lists, so a task needs nothing else. A task
takes no lock and only adds files below RUN. It may be killed, run again, or run on two
machines at once. A killed task loses only the chunk it was at, about 64 inputs; a chunk
with results is not scanned again. A nightly scan may use the archive meanwhile, but it
ends with 5 while merge commits. If another run scans an input after the plan was made,
the result of that run stays.

flags:
      --archive DIR    the archive for the results
      --tasks N        number of tasks, 1 to 99999; a machine may run several
  -p, --profile FILE   aircraft profile; needed for all but shipped demo data
      --fleet FILE     in place of --profile: which profile each input has, as in scan
  -r, --rules FILE     rule pack on top of the built-in one; may be repeated
      --aircraft TEXT  registration of the aircraft in the inputs
      --date YYYY-MM-DD
                       date of the first row of exports with a clock and no date
      --aerodromes FILE
                       codes of aerodromes, as in scan
      --max-size MIB   refuse an input that is larger when unpacked (default 2048)
      --allow-empty    an input folder that is missing or has no export is no failure
      --share          let others read what the tasks and merge write, as the umask says
  -q, --quiet          no notes; errors and warnings only
      --show RUN       the progress of an array: chunks merged, done and missing, chunks
                       that a worker is at, inputs that failed, and what remains

An archive with withheld identities cannot be planned: a plan holds the names of the inputs.

Slurm, with 400 tasks of two cores, of which 100 run at the same time; merge scans what
the tasks did not:
  RUN=$(downlock plan --archive /data/fleet --profile th120.yaml --tasks 400 /data/exports)
  ID=$(sbatch --parsable --array=0-399%100 --cpus-per-task=2 --mem=6G --requeue \
       --wrap "downlock scan -q -j 2 --run $RUN")
  sbatch --dependency=afterany:$ID --cpus-per-task=2 --mem=8G --wrap "downlock merge --run $RUN"

Kubernetes, where /data is a volume that all nodes mount. Trying again does not help
after exit codes 2 and 3. Code 1 means that inputs failed; merge lists them:
  apiVersion: batch/v1
  kind: Job
  metadata: {name: rescan}
  spec:
    completionMode: Indexed
    completions: 400
    parallelism: 100
    backoffLimitPerIndex: 3
    podFailurePolicy:
      rules:
      - action: FailJob
        onExitCodes: {containerName: downlock, operator: In, values: [2, 3]}
      - action: Ignore
        onPodConditions: [{type: DisruptionTarget}]
    template:
      spec:
        restartPolicy: Never
        containers:
        - name: downlock
          image: registry.example/downlock
          command: [sh, -c, "downlock scan -q -j 2 --run /data/fleet/arrays/RUN || [ $? = 1 ]"]
          resources: {requests: {cpu: "2", memory: 6Gi}, limits: {memory: 6Gi}}
          volumeMounts: [{name: data, mountPath: /data}]
        volumes: [{name: data, persistentVolumeClaim: {claimName: data}}]

Sizing, as measured on two cores with other work running:
  cores     a core reads 14 MB/s of plain CSV; a task starts in a second (81 MB in 8 tasks:
            5.9 s with 1 worker, 5.2 with 2, 3.6 with 4)
  network   as many MB/s as the tasks read
  disk      2 kB a flight until merge (the staged files of 100,000 flights)
  memory    of a task as of scan: --max-size and 1 GiB for each input read at one time
  merge     9 minutes and 204 MB for 100,000 flights of 120 months, on one core

exit codes: 0 done, 1 some inputs cannot be listed; the others are planned, 2 usage,
3 profile, fleet, rules or list invalid, 4 the plan could not be written, 5 another run
uses the archive, or another array of it is not merged yet
`

// PlanCommand runs plan and returns the exit code.
func PlanCommand(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	o := scanOptions{packAbove: ingest.ManySamples}
	flags := pflag.NewFlagSet("plan", pflag.ContinueOnError)
	flags.StringVar(&o.archive, "archive", "", "")
	tasks := flags.Int("tasks", 0, "")
	flags.StringVarP(&o.profile, "profile", "p", "", "")
	flags.StringVar(&o.fleet, "fleet", "", "")
	flags.StringArrayVarP(&o.rules, "rules", "r", nil, "")
	flags.StringVar(&o.aircraft, "aircraft", "", "")
	flags.StringVar(&o.dateText, "date", "", "")
	flags.StringVar(&o.aerodromes, "aerodromes", "", "")
	flags.Int64Var(&o.maxSize, "max-size", ingest.DefaultMaxBytes>>20, "")
	flags.BoolVar(&o.allowEmpty, "allow-empty", false, "")
	flags.BoolVar(&o.share, "share", false, "")
	flags.BoolVarP(&o.quiet, "quiet", "q", false, "")
	show := flags.String("show", "", "")
	if code, done := command.ParseFlags(flags, args, planHelp, stdout, stderr); done {
		return code
	}
	if flags.Changed("show") {
		return planShow(*show, flags, stdout, say)
	}
	wrong, hint := o.planMistake(flags, *tasks)
	if wrong == "" && flags.Changed("date") {
		var err error
		if o.date, err = time.Parse(time.DateOnly, o.dateText); err != nil {
			wrong, hint = "--date "+command.Quote(o.dateText)+" is not a date", "write it as YYYY-MM-DD"
		}
	}
	if wrong != "" {
		say.Error(wrong)
		say.Hint(hint)
		return command.ExitUsage
	}
	if o.aerodromes != "" {
		var err error
		if o.places, err = schemas.ReadAerodromes(o.aerodromes); err != nil {
			say.Failure(err)
			return command.ExitInvalid
		}
	}
	return o.plan(flags.Args(), *tasks, stdout, say)
}

func planShow(dir string, flags *pflag.FlagSet, stdout io.Writer, say command.Messages) int {
	others := flags.NArg()
	flags.Visit(func(f *pflag.Flag) {
		if f.Name != "show" {
			others++
		}
	})
	if others > 0 {
		say.Error("--show goes with no other flag and no INPUT")
		say.Hint("try `downlock plan --show RUN`")
		return command.ExitUsage
	}
	r, err := archive.OpenArray(dir)
	if err != nil {
		say.Failure(err)
		return command.ExitInvalid
	}
	return showArray(r, stdout, say)
}

func (o *scanOptions) planMistake(flags *pflag.FlagSet, tasks int) (wrong, hint string) {
	switch {
	case o.archive == "":
		return "plan needs --archive DIR", "name the archive for the results"
	case tasks < 1 || tasks > 99_999:
		return fmt.Sprintf("--tasks %d: it takes 1 to 99999", tasks), "name how many tasks the array has"
	case flags.NArg() == 0:
		return "plan needs at least one input", "try `downlock plan --archive fleet --profile my-type.yaml --tasks 100 exports/`"
	case slices.Contains(flags.Args(), command.Stdin):
		return "an array cannot read standard input", "write it to a file, and name that"
	case o.fleet != "" && o.profile != "":
		return "--fleet and --profile do not go together", "the fleet file names the profiles"
	case o.fleet != "" && o.aircraft != "":
		return "--fleet and --aircraft do not go together", "the fleet file says which aircraft each input is of"
	case o.maxSize < 1 || o.maxSize > 1<<20:
		return fmt.Sprintf("--max-size %d: it takes 1 to %d MiB", o.maxSize, 1<<20), ""
	}
	if folder, flag := o.takenFor(flags.Args()); folder != "" {
		return folder + " is an input and the folder of " + flag + ", which is left out of the inputs", "name the folder of the exports, and another one for " + flag
	}
	return "", ""
}

// plan lists the inputs, asks the archive about them, and writes the plan.
func (o scanOptions) plan(args []string, tasks int, stdout io.Writer, say command.Messages) int {
	found := findInputs(args, o)
	s, all, code := prepareScan(o, found.files, newStopping(say), say)
	if code != command.ExitDone {
		return code
	}
	s.takeInputs(found.files, all)
	s.listed = found.listed
	s.kept.Began, s.kept.Work = Clock(), "plan of an array, "
	if code = s.openArchive(); code != command.ExitDone {
		return code
	}
	defer s.close()
	open, err := s.archive.UnmergedArray()
	if err != nil {
		say.Failure(err)
		return command.ExitInvalid
	}
	if open != "" {
		say.Error(o.archive + ": another array of this archive is not merged yet: " + open)
		say.Hint("finish it with `downlock merge --run " + open + "`, or remove that folder, which discards its results")
		return command.ExitLocked
	}
	s.tell(found, found.leftOut.shown(nil))
	failures := append(found.failures, s.unplaced...)
	var planned []archive.ArrayInput
	known := 0
	for _, in := range s.inputs {
		sight, err := in.Sight(s.sightListed)
		if err != nil {
			failures = append(failures, report.Failure{Input: in.Path, Err: err})
			continue
		}
		if input, current := s.archive.Ask(in.Input, sight); current {
			known++
		} else {
			planned = append(planned, input)
		}
	}
	for _, f := range failures {
		say.Failure(f.Err)
	}
	code = command.ExitDone
	if len(failures) > 0 {
		code = command.ExitInputsFailed
	}
	if len(planned) == 0 {
		if !o.quiet {
			say.Note(fmt.Sprintf("there is nothing to scan: %s unchanged", command.Count(known, "input")))
		}
		return code
	}
	dir, err := s.writePlan(planned, tasks)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	if !o.quiet {
		bytes := int64(0)
		for _, in := range planned {
			bytes += in.Sight.Size
		}
		say.Note(fmt.Sprintf("%s of %.1f MB for %s; %d unchanged, left out", command.Count(len(planned), "input"), float64(bytes)/1e6, command.Count(tasks, "task"), known))
	}
	if _, err := fmt.Fprintln(stdout, schemas.Absolute(dir)); err != nil {
		say.Error("standard output: " + err.Error())
		return command.ExitOutput
	}
	return code
}

// writePlan writes the plan with copies of the files of the settings.
func (s *scan) writePlan(planned []archive.ArrayInput, tasks int) (dir string, err error) {
	o := s.options
	setting := arraySetting{Profile: o.profile, Fleet: o.fleet, Rules: o.rules, Aerodromes: o.aerodromes, Aircraft: o.aircraft, Date: o.date,
		MaxSize: o.maxSize, Share: o.share, Copies: map[string]string{}}
	texts := map[string][]byte{}
	paths, err := o.settingFiles()
	if err != nil {
		return "", err
	}
	for i, path := range paths {
		name := fmt.Sprintf("%d-%s", i, filepath.Base(path))
		if path == "" { // demo data
			setting.Profile = s.kept.Profile.File
			path, name = setting.Profile, "shipped.yaml"
			texts[name] = shippedText(s.kept.Profile)
		} else if texts[name], err = os.ReadFile(path); err != nil {
			return "", err
		}
		setting.Copies[path] = name
	}
	text, err := json.Marshal(setting)
	if err != nil {
		return "", err
	}
	return s.archive.PlanArray(planned, tasks, text, texts)
}

// shippedText returns the text of a shipped profile, nil for another one.
func shippedText(p *schemas.Profile) []byte {
	for _, name := range schemas.ShippedProfileNames {
		if shipped, err := schemas.ShippedProfileNamed(name); err == nil && shipped.SHA256 == p.SHA256 {
			return schemas.ShippedProfileTextNamed(name)
		}
	}
	return nil
}

// mergeHint says how to end an array of which chunks are missing.
func mergeHint(dir string, missing []int) string {
	names := make([]string, 0, 10)
	for _, n := range missing[:min(len(missing), 10)] {
		names = append(names, fmt.Sprint(n))
	}
	list := strings.Join(names, ", ")
	if len(missing) > 10 {
		list += ", …"
	}
	return fmt.Sprintf("chunks %s; `downlock plan --show %s` says of which tasks. Run those again, or merge without --no-scan", list, dir)
}
