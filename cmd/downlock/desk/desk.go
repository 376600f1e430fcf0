// Package desk is the subcommand that serves the web page analysts work through an
// archive at.
package desk

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/pflag"

	"downlock/cmd/downlock/command"
	"downlock/cmd/downlock/command/early"
	"downlock/cmd/downlock/scan"
	"downlock/detect"
	"downlock/report"
	"downlock/report/archive"
	"downlock/report/desk"
	"downlock/report/output"
)

const deskHelp = `usage: downlock desk --archive DIR [flags]

Serves a web page on which one or several analysts review what scans found. It shows the
worklist of occurrences without a verdict, worst or oldest first, with filters; each
occurrence with the report of its flight, how it compares with the fleet, and its
verdicts; the rates of the last twelve months; and the inputs that could not be read. A
verdict is recorded as ` + "`downlock review set`" + ` records it, and everybody else at the desk
sees it at once. The same is true of the actions on an occurrence: assigned to, due,
referred to maintenance, crew contact. scan may write to the archive meanwhile. If it has
changed or removed an event, the desk says so before it records a verdict on it.

It prints an address with a token. Opening that address signs a browser in, with a
cookie. The desk ends with Ctrl-C or SIGTERM.

flags:
  -a, --archive DIR      the archive to work on
      --reports DIR      a folder that scan --out wrote, for reports of flights whose
                         recordings have been moved or removed
      --listen ADDRESS   host:port; port 0 takes a free one  (default 127.0.0.1:0);
                         an address that other machines can reach needs --cert and
                         --key
      --cert FILE        certificate (PEM), whose names the desk answers to
      --key FILE         its private key (PEM)
      --share            let others read and add verdicts, as the umask says
  -q, --quiet            no notes; errors, warnings and the address only

to make reports again from recordings, give the flags of the scan:
  -p, --profile FILE     aircraft profile; needed for all but shipped demo data
      --fleet FILE       in place of --profile, for several types or aircraft
  -r, --rules FILE       rule pack on top of the built-in one; may be repeated
      --aircraft TEXT    registration, if it was given to scan
      --aerodromes FILE  codes of aerodromes, if they were given to scan
      --deidentify KEYFILE
                         if the archive was scanned with it: reviewers' names become
                         tokens. Without it such an archive can be read, but no
                         verdict can be given

keys in the page: j k move, x chooses, Enter opens; v f u begin a verdict (valid,
false, follow-up), Enter notes it, Esc leaves it; n p w next, previous, worklist.

On stdout: the address.

examples:
  downlock desk --archive fleet --reports reports
  downlock desk -a fleet --listen 0.0.0.0:8443 --cert desk.pem --key desk.key --share

exit codes: 0 ended by Ctrl-C or SIGTERM, 2 usage, 3 key, rules, list or certificate
invalid, 4 the archive could not be read, or the address could not be used.
`

type deskOptions struct {
	archive, reports, listen, cert, key, deidentify string
	share, quiet                                    bool
	again                                           scan.AgainOptions
}

// Command runs desk until it is asked to stop, and returns the exit code.
func Command(args []string, stdout, stderr io.Writer) int {
	say := command.Messages{To: stderr}
	var o deskOptions
	flags := pflag.NewFlagSet("desk", pflag.ContinueOnError)
	flags.StringVarP(&o.archive, "archive", "a", "", "")
	flags.StringVar(&o.reports, "reports", "", "")
	flags.StringVar(&o.listen, "listen", "127.0.0.1:0", "")
	flags.StringVar(&o.cert, "cert", "", "")
	flags.StringVar(&o.key, "key", "", "")
	flags.BoolVar(&o.share, "share", false, "")
	flags.BoolVarP(&o.quiet, "quiet", "q", false, "")
	flags.StringVarP(&o.again.Profile, "profile", "p", "", "")
	flags.StringVar(&o.again.Fleet, "fleet", "", "")
	flags.StringArrayVarP(&o.again.Rules, "rules", "r", nil, "")
	flags.StringVar(&o.again.Aircraft, "aircraft", "", "")
	flags.StringVar(&o.again.Aerodromes, "aerodromes", "", "")
	flags.StringVar(&o.deidentify, "deidentify", "", "")
	if code, done := command.ParseFlags(flags, args, deskHelp, stdout, stderr); done {
		return code
	}
	if cause, hint := o.mistake(flags.Args()); cause != "" {
		say.Error(cause)
		say.Hint(hint)
		return command.ExitUsage
	}
	stop, cancel := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	early.Release()
	defer cancel()
	return o.run(stop, stdout, say)
}

// mistake returns a mistake in the flags and a hint, "" when there is none.
func (o *deskOptions) mistake(rest []string) (cause, hint string) {
	host, _, err := net.SplitHostPort(o.listen)
	switch {
	case o.archive == "":
		return "desk needs --archive DIR", "name the folder `downlock scan --archive` writes"
	case len(rest) > 0:
		return "desk takes no argument " + command.Quote(rest[0]), "name the archive with --archive"
	case err != nil:
		return "--listen " + command.Quote(o.listen) + " is not an address", "write host:port, such as 127.0.0.1:8080"
	case (o.cert == "") != (o.key == ""):
		return "--cert and --key go together", ""
	case o.cert == "" && !loopback(host):
		return "--listen " + command.Quote(o.listen) + " is an address that other machines can reach: it needs --cert and --key", "use 127.0.0.1, or give a certificate and its key"
	case o.again.Profile != "" && o.again.Fleet != "":
		return "--profile and --fleet do not go together", ""
	}
	return "", ""
}

// loopback reports whether a host is this machine alone.
func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// Bounds of a connection, so that a browser that hangs holds nothing for long. Pages are
// written within the time a long recording takes.
const (
	headerTime  = 10 * time.Second
	readTime    = 30 * time.Second
	writeTime   = 5 * time.Minute
	idleTime    = 2 * time.Minute
	maxHeader   = 64 << 10
	endTime     = 5 * time.Second
	lookEvery   = 2 * time.Second
	memoryLimit = 280 << 20 // from which on the garbage collector works harder
)

func (o *deskOptions) run(stop context.Context, stdout io.Writer, say command.Messages) int {
	debug.SetMemoryLimit(memoryLimit)
	var d *desk.Desk
	o.again.Verdict = func(f *detect.Flight, e *detect.Event) *report.Verdict { return d.Verdict(f, e) }
	settings, code := o.settings(say)
	if code != command.ExitDone {
		return code
	}
	certificate, code := o.certificate(say)
	if code != command.ExitDone {
		return code
	}
	listener, err := net.Listen("tcp", o.listen)
	if err != nil {
		say.Failure(&output.Error{Path: o.listen, Err: err})
		return command.ExitOutput
	}
	settings.Hosts = hosts(listener.Addr(), o.listen, certificate)
	scheme := "http"
	if settings.Secure = certificate != nil; settings.Secure {
		scheme = "https"
		listener = tls.NewListener(listener, &tls.Config{Certificates: []tls.Certificate{*certificate}, MinVersion: tls.VersionTLS12, NextProtos: []string{"http/1.1"}})
	}
	d, err = desk.New(*settings)
	if err != nil {
		listener.Close()
		say.Failure(err)
		return command.ExitOutput
	}
	server := &http.Server{Handler: d.Handler(), ReadHeaderTimeout: headerTime, ReadTimeout: readTime, WriteTimeout: writeTime, IdleTimeout: idleTime,
		MaxHeaderBytes: maxHeader, ErrorLog: log.New(io.Discard, "", 0), BaseContext: func(net.Listener) context.Context { return stop }}
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		d.Watch(stop, lookEvery)
	}()
	fmt.Fprintf(stdout, "%s://%s/?token=%s\n", scheme, settings.Hosts[0], settings.Token)
	if !o.quiet {
		say.Note("the desk is open; anyone with this address can give verdicts; Ctrl-C ends it")
	}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	select {
	case err = <-failed:
	case <-stop.Done():
	}
	end, cancel := context.WithTimeout(context.Background(), endTime)
	defer cancel()
	if server.Shutdown(end) != nil {
		server.Close()
	}
	if err != nil && !errors.Is(err, http.ErrServerClosed) {
		say.Failure(&output.Error{Path: o.listen, Err: err})
		return command.ExitOutput
	}
	<-watched
	return command.ExitDone
}

// settings are the options of the desk, but for its address.
func (o *deskOptions) settings(say command.Messages) (*desk.Options, int) {
	key, ok := command.ReadKey(o.deidentify, say)
	if !ok {
		return nil, command.ExitInvalid
	}
	withheld, err := archive.Withheld(o.archive)
	if err == nil && key != nil {
		err = archive.CheckKey(o.archive, key)
	}
	if err != nil {
		say.Failure(err)
		return nil, command.ExitOutput
	}
	d := &desk.Options{Archive: o.archive, Version: command.Version, Token: desk.NewToken(), Reports: o.reports, Identity: key, Share: o.share, Warn: say.Warning}
	o.again.Archive = o.archive
	again, code := scan.NewAgain(o.again, say)
	if code != command.ExitDone {
		return nil, code
	}
	d.Rules = again.Rules()
	if withheld == "" {
		d.Make = again.Report
	} else if key == nil {
		d.ReadOnly = "Identity is withheld in this archive, and the desk was opened without its key. No verdict can be given, because the reviewer's name must become a token. Open the desk with --deidentify KEYFILE."
	}
	return d, command.ExitDone
}

// certificate reads the certificate; nil where none is named.
func (o *deskOptions) certificate(say command.Messages) (*tls.Certificate, int) {
	if o.cert == "" {
		return nil, command.ExitDone
	}
	c, err := tls.LoadX509KeyPair(o.cert, o.key)
	if err != nil {
		say.Error(o.cert + ", " + o.key + ": " + err.Error())
		say.Hint("give a certificate and its private key, both in PEM")
		return nil, command.ExitInvalid
	}
	return &c, command.ExitDone
}

// hosts are the names the desk answers to, the first for its address: of the certificate,
// or of this machine.
func hosts(address net.Addr, listen string, certificate *tls.Certificate) (all []string) {
	_, port, _ := net.SplitHostPort(address.String())
	host, _, _ := net.SplitHostPort(listen)
	usual := port == "80" && certificate == nil || port == "443" && certificate != nil // which browsers leave out
	add := func(host string) {
		name := net.JoinHostPort(host, port)
		if usual {
			name = strings.TrimSuffix(name, ":"+port)
		}
		all = append(all, strings.ToLower(name))
	}
	if certificate == nil {
		add(host)
		for _, name := range []string{"127.0.0.1", "localhost", "::1"} {
			if name != host {
				add(name)
			}
		}
		return all
	}
	if leaf := certificate.Leaf; leaf != nil {
		for _, name := range leaf.DNSNames {
			add(name)
		}
		for _, ip := range leaf.IPAddresses {
			add(ip.String())
		}
	}
	if len(all) == 0 {
		add(host)
	}
	return all
}
