package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"runtime"
	"time"

	"github.com/spf13/cobra"

	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/serving"
	"peelcheck/preflight/report"
)

type serveFlags struct {
	jobFlags
	listen          string
	maxUploadMB     int64
	keep            time.Duration
	atOnce, waiting int
	noOpen          bool
}

func newServe(say *speaker) *cobra.Command {
	var f serveFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "A local page: drop artwork, see the verdict, the proof and the list",
		Long: `Opens a page in the browser for the person at the counter: drop artwork, see the verdict and each finding in its place,
change the size, process, sheet or garment, look at the printed sheet, and take proof, print file, ticket and a reply to the
customer with you. It needs no network.

Only this machine reaches the page unless --listen names another address. Then everybody on the network can see and drop
artwork: there is no password. Uploads are kept in a folder of your own for as long as --keep says, and removed at the end.

The flags of "peelcheck check" say what the page starts with. End it with Ctrl-C.`,
		Example: `  peelcheck serve
  peelcheck serve --process film-underbase --garment navy
  peelcheck serve --listen 192.168.1.20:8080 --no-open`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return &problem.Problem{Reason: "serve takes no files", Remedy: "drop them on the page"}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return f.run(cmd.Context(), say) },
	}
	fs := cmd.Flags()
	fs.SortFlags = false
	fs.StringVar(&f.listen, "listen", "127.0.0.1:8417", "address `ADDR` to answer at; a port of 0 takes a free one")
	fs.BoolVar(&f.noOpen, "no-open", false, "do not open the browser")
	fs.Int64Var(&f.maxUploadMB, "max-upload", 300, "largest file taken, `N` megabytes")
	fs.DurationVar(&f.keep, "keep", 4*time.Hour, "how long an upload is kept, as `TIME` 30m or 4h")
	fs.IntVar(&f.atOnce, "at-once", 2, "files judged at once, at most `N`")
	fs.IntVar(&f.waiting, "waiting", 16, "files that may wait for that, at most `N`; more are told to come again")
	f.add(fs, say)
	return cmd
}

func (f *serveFlags) run(ctx context.Context, say *speaker) error {
	opt, err := f.serving(say)
	if err != nil {
		return err
	}
	on, err := net.Listen("tcp", f.listen)
	if err != nil {
		return cannotListen(f.listen, err)
	}
	server, err := serving.New(opt)
	if err != nil {
		on.Close()
		return err
	}
	if err := f.announce(say, on.Addr()); err != nil {
		return errors.Join(on.Close(), server.Close(), err)
	}
	err = server.Serve(ctx, on)
	say.status("")
	if closed := server.Close(); err == nil && closed != nil {
		err = problem.About("uploads", closed)
	}
	return err
}

// serving checks the whole call.
func (f *serveFlags) serving(say *speaker) (serving.Options, error) {
	_, shop, err := f.job()
	if err != nil {
		return serving.Options{}, err
	}
	for _, n := range []struct {
		flag        string
		value, from int64
	}{{"max-upload", f.maxUploadMB, 1}, {"at-once", int64(f.atOnce), 1}, {"waiting", int64(f.waiting), 0}} {
		if n.value < n.from {
			return serving.Options{}, fmt.Errorf("--%s: %d is less than %d", n.flag, n.value, n.from)
		}
	}
	if f.keep < time.Minute {
		return serving.Options{}, fmt.Errorf("--keep: %v is less than a minute", f.keep)
	}
	return serving.Options{
		Judging: f.options(say), Asked: f.Asked, Shop: shop,
		MaxUpload: f.maxUploadMB * 1e6, Keep: f.keep, AtOnce: f.atOnce, Waiting: f.waiting,
	}, nil
}

func cannotListen(addr string, err error) error {
	reason := err.Error()
	if op := (*net.OpError)(nil); errors.As(err, &op) {
		reason = op.Err.Error()
	}
	return &problem.Problem{
		Reason: fmt.Sprintf("cannot answer at %q: %s", addr, reason),
		Remedy: "another peelcheck serve may be running; end it, or name another address with --listen, as 127.0.0.1:8500",
	}
}

// announce tells where the page is and who can reach it, and opens it.
func (f *serveFlags) announce(say *speaker, at net.Addr) error {
	url := "http://" + reachable(at)
	text := fmt.Sprintf("The page is at %s (end it with Ctrl-C)\n", url)
	if !serving.IsLoopback(at) {
		say.problem(&problem.Problem{
			Reason: fmt.Sprintf("warning: anybody who reaches this machine at %s can see the artwork on the page and drop more; there is no password and no encryption", at),
			Remedy: "use it in a network you trust, or leave --listen out",
		})
	}
	if err := say.text(report.Wrap(text)); err != nil {
		return err
	}
	if !f.noOpen && hasDesktop() {
		if err := openBrowser(url); err != nil {
			say.problem(&problem.Problem{Reason: fmt.Sprintf("the browser could not be opened (%v)", err), Remedy: "open " + url + " yourself"})
		}
	}
	return nil
}

// reachable is an address for this machine's own browser.
func reachable(at net.Addr) string {
	tcp, ok := at.(*net.TCPAddr)
	if ok && tcp.IP.IsUnspecified() {
		return net.JoinHostPort("localhost", fmt.Sprint(tcp.Port))
	}
	return at.String()
}

// hasDesktop reports whether a person sits at this machine who would see a browser.
func hasDesktop() bool {
	switch runtime.GOOS {
	case "windows", "darwin":
		return true
	}
	return os.Getenv("DISPLAY") != "" || os.Getenv("WAYLAND_DISPLAY") != ""
}

// openBrowser opens a page as the desktop is set to.
func openBrowser(url string) error {
	var cmd *exec.Cmd
	switch runtime.GOOS {
	case "windows":
		cmd = exec.Command("rundll32", "url.dll,FileProtocolHandler", url)
	case "darwin":
		cmd = exec.Command("open", url)
	default:
		cmd = exec.Command("xdg-open", url)
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	go cmd.Wait() // so that it leaves no zombie
	return nil
}
