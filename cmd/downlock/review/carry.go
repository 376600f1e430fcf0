package review

import (
	"fmt"
	"io"

	"downlock/cmd/downlock/command"
	"downlock/report/archive"
	"downlock/report/review"
)

// carry adds verdicts on ids that events no longer go by to the events of today.
func (o *reviewOptions) carry(stdout io.Writer, say command.Messages) int {
	moved, gone, err := archive.FindMoved(o.archive)
	if err != nil {
		say.Failure(err)
		return command.ExitOutput
	}
	lines := &command.Lines{To: stdout}
	lines.Line("event", "was", "verdicts carried")
	code, carried := command.ExitDone, 0
	for _, m := range moved {
		paths, damaged, err := review.Carry(o.archive, m.Was, m.Event.EventID, o.share)
		code = max(code, reportDamaged(damaged, say))
		if err != nil {
			say.Failure(err)
			return command.ExitOutput
		}
		if len(paths) > 0 {
			lines.Line(m.Event.EventID, m.Was, fmt.Sprint(len(paths)))
			carried++
		}
	}
	if carried > 0 {
		o.keepTable(say)
	}
	if lines.Err != nil {
		say.Failure(lines.Failure())
		return command.ExitOutput
	}
	say.Note(fmt.Sprintf("verdicts on %s carried to the present ids; the old verdicts stay", command.Count(carried, "event")))
	if len(gone) > 0 {
		say.Note(fmt.Sprintf("verdicts on %s stay where they are: the archive has none of these events under any id", command.Count(len(gone), "other event")))
	}
	return code
}

// noteMoved says where verdicts wait to be carried.
func (o *reviewOptions) noteMoved(say command.Messages) error {
	moved, _, err := archive.FindMoved(o.archive)
	if err != nil {
		return err
	}
	waiting := 0
	for _, m := range moved {
		done, err := review.Carried(o.archive, m.Was, m.Event.EventID)
		if err != nil {
			return err
		}
		if !done {
			waiting++
		}
	}
	if waiting > 0 {
		say.Note(fmt.Sprintf("verdicts on %s are on old ids, made from compressed bytes, and do not count: `downlock review --archive %s carry` adds them to the present events",
			command.Count(waiting, "event"), o.archive))
	}
	return nil
}
