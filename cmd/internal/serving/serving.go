// Package serving is the local page for the counter: it takes artwork from a browser, judges it, and shows what was found. Start at New.
package serving

import (
	"context"
	"errors"
	"html/template"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"golang.org/x/sync/singleflight"

	"peelcheck/cmd/internal/judging"
	"peelcheck/cmd/internal/problem"
	"peelcheck/cmd/internal/setup"
	"peelcheck/preflight"
)

// Options say what the page starts with and what bounds it.
type Options struct {
	Judging   judging.Options
	Asked     setup.Asked           // what the page starts with; the person at the page may change it
	Shop      *preflight.ShopConfig // what the shop's file says
	Folder    string                // where uploads are kept while the page runs; empty for one in the user's cache
	MaxUpload int64                 // bytes of one file
	Keep      time.Duration         // how long an upload is kept
	AtOnce    int                   // files judged at once
	Waiting   int                   // files that may wait for that
	MostHeld  int64                 // bytes of judged pictures kept in memory; 0 for mostHeldBytes
}

const (
	mostHeldBytes = 400 << 20
	uploadsKept   = 20 // of the largest size, on the disk
)

// Server is the page. Close must be called at the end.
type Server struct {
	opt     Options
	bench   *judging.Bench
	store   *store
	queue   *queue
	once    singleflight.Group
	views   *views
	drawing chan struct{} // bounds what is drawn at once
	pages   *template.Template

	retryAfter int // seconds
	ctx        context.Context
	stop       context.CancelFunc
}

// New makes the page ready and takes away what an earlier run left behind.
func New(opt Options) (*Server, error) {
	if opt.MostHeld == 0 {
		opt.MostHeld = mostHeldBytes
	}
	if opt.Folder == "" {
		opt.Folder = uploadsFolder()
	}
	store, err := openStore(opt.Folder, opt.Keep, uploadsKept*opt.MaxUpload)
	if err != nil {
		return nil, problem.About(opt.Folder, err).Unwritable("uploads cannot be kept here")
	}
	s := &Server{
		opt: opt, bench: judging.New(opt.Judging), store: store, queue: newQueue(opt.AtOnce, opt.Waiting),
		views: &views{most: opt.MostHeld}, drawing: make(chan struct{}, runtime.GOMAXPROCS(0)), pages: pagesFor(opt.MaxUpload), retryAfter: retryAfter,
	}
	store.onRemove = s.views.forget
	s.ctx, s.stop = context.WithCancel(context.Background())
	return s, nil
}

// uploadsFolder is in the user's own cache, where no other user can look; without one, uploads go where temporary files go.
func uploadsFolder() string {
	dir, err := os.UserCacheDir()
	if err != nil {
		dir = os.TempDir()
	}
	return filepath.Join(dir, "peelcheck", "counter")
}

// Close stops what is being judged and removes all that was uploaded.
func (s *Server) Close() error {
	s.stop()
	return s.store.close()
}

// Serve answers on a listener until ctx is done.
func (s *Server) Serve(ctx context.Context, on net.Listener) error {
	server := http.Server{
		Handler:           s.Handler(on.Addr()),
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	go s.sweep(ctx)
	go func() {
		<-ctx.Done()
		s.stop()
		server.Close() // at once: what is being answered is lost to nobody but this machine's own browser
	}()
	if err := server.Serve(on); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// sweep removes old uploads even when nobody looks at the page.
func (s *Server) sweep(ctx context.Context) {
	tick := time.NewTicker(min(time.Minute, s.opt.Keep))
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			s.store.sweep()
		}
	}
}

// Handler answers requests that come to an address.
func (s *Server) Handler(at net.Addr) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.home)
	mux.HandleFunc("POST /uploads", s.take)
	mux.HandleFunc("GET /a/{id}", s.about(s.artwork))
	mux.HandleFunc("GET /a/{id}/pages", s.about(s.pagesOf))
	mux.HandleFunc("GET /a/{id}/ticket", s.about(s.ticket))
	mux.HandleFunc("POST /a/{id}/remove", s.about(s.remove))
	mux.HandleFunc("GET /a/{id}/tiles/{layer}/{level}/{x}/{y}", s.about(s.tile))
	mux.HandleFunc("GET /a/{id}/whole.png", s.about(s.whole))
	mux.HandleFunc("GET /a/{id}/report.json", s.about(s.reportFile))
	mux.HandleFunc("GET /a/{id}/report.html", s.about(s.reportPage))
	mux.HandleFunc("GET /a/{id}/proof.png", s.about(s.proofFile))
	mux.HandleFunc("GET /a/{id}/proof.pdf", s.about(s.proofAtTrueSize))
	mux.HandleFunc("GET /a/{id}/print.pdf", s.about(s.printFile))
	mux.HandleFunc("GET /a/{id}/ticket.txt", s.about(s.ticketFile))
	mux.HandleFunc("GET /a/{id}/reply.txt", s.about(s.replyFile))
	mux.Handle("GET /assets/", assetFiles)
	mux.HandleFunc("/", s.nothingHere)
	return guarded(newGuard(at), mux)
}
