package scan

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
)

// taskOptions are the flags of scan for one task of an array.
type taskOptions struct {
	run  string
	task int
}

// indexVariables are the variables in which schedulers tell a task of an array its index: Slurm,
// Kubernetes Indexed Jobs and AWS Batch (their documentation; from memory).
var indexVariables = []string{"SLURM_ARRAY_TASK_ID", "JOB_COMPLETION_INDEX", "AWS_BATCH_JOB_ARRAY_INDEX"}

// taskFlags are the flags that go with --run. All else stands in the plan.
var taskFlags = []string{"run", "task", "jobs", "quiet", "log"}

// command scans the inputs of a task and returns the exit code.
func (t taskOptions) command(flags *pflag.FlagSet, o scanOptions, stop *stopping, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	stop.sayWith(say)
	wrong, hint := "", ""
	flags.Visit(func(f *pflag.Flag) {
		if !slices.Contains(taskFlags, f.Name) {
			wrong, hint = "--"+f.Name+" and --run do not go together", "the plan has the settings of the array"
		}
	})
	switch {
	case wrong != "":
	case t.run == "":
		wrong, hint = "--task needs --run", "name the folder `downlock plan` printed"
	case flags.NArg() > 0:
		wrong, hint = "--run takes no INPUT", "the plan says which inputs each task has"
	case !flags.Changed("task"):
		t.task, wrong, hint = taskIndex(os.Getenv)
	}
	if wrong == "" {
		wrong, hint = o.reportMistake(o.jobs)
	}
	if wrong != "" {
		say.Error(wrong)
		say.Hint(hint)
		return command.ExitUsage
	}
	s, code := openArray(t.run, o.jobs, o.quiet, stop, say)
	if s == nil {
		return code
	}
	if t.task < 0 || t.task >= s.array.Tasks {
		say.Error(fmt.Sprintf("task %d: the array has tasks 0 to %d", t.task, s.array.Tasks-1))
		say.Hint("number the tasks of the scheduler from 0, as `#SBATCH --array=0-" + strconv.Itoa(s.array.Tasks-1) + "` does")
		return command.ExitUsage
	}
	stop.begin(progress{})
	return s.scanTask(t.task)
}

// taskIndex returns the index that the scheduler set.
func taskIndex(getenv func(string) string) (index int, wrong, hint string) {
	for _, name := range indexVariables {
		text := getenv(name)
		if text == "" {
			continue
		}
		n, err := strconv.Atoi(text)
		if err != nil {
			return 0, "$" + name + " is " + command.Quote(text) + ", which is not the index of a task", "say which task it is with --task"
		}
		return n, "", ""
	}
	return 0, "--run needs --task: no scheduler has set an index", "add --task 0, or run it as a task of an array"
}

// scanTask scans the chunks of a task that have no results, and returns the exit code.
func (s *arrayScan) scanTask(task int) int {
	var sum chunkResult
	skipped, stopped := 0, false
	err := s.array.EachChunk(task, func(number int, planned []archive.ArrayInput) error {
		if stopped = stopped || s.stop.asked(); stopped {
			return nil
		}
		c, err := s.scanChunk(number, planned)
		if c.skipped {
			skipped++
		}
		stopped = c.stopped
		sum.inputs, sum.failed, sum.flights, sum.bytes = sum.inputs+c.inputs, sum.failed+c.failed, sum.flights+c.flights, sum.bytes+c.bytes
		return err
	})
	if err != nil {
		s.say.Failure(err)
		if command.IsOutput(err) {
			return command.ExitOutput
		}
		return command.ExitInvalid
	}
	if !s.options.quiet {
		text := fmt.Sprintf("task %d: %s from %s, %d failed", task, command.Count(sum.flights, "flight"), command.Count(sum.inputs, "input"), sum.failed)
		if skipped > 0 {
			text += fmt.Sprintf("; %s had their results already", command.Count(skipped, "chunk"))
		}
		s.say.Note(text)
	}
	switch {
	case s.stop.asked():
		return command.ExitSignal + s.stop.signal()
	case sum.failed > 0:
		return command.ExitInputsFailed
	}
	return command.ExitDone
}
