package serving

import (
	"context"
	"net"
	"testing"
	"time"

	"peelcheck/cmd/internal/judging"
	"peelcheck/preflight"
	"peelcheck/preflight/rules"
)

// start serves a page with what is left out of opt as the command has it.
func start(t testing.TB, opt Options) (*Server, string) {
	t.Helper()
	opt.Judging = judging.Options{Rules: rules.All()}
	opt.Shop = &preflight.ShopConfig{}
	opt.Folder = t.TempDir()
	if opt.MaxUpload == 0 {
		opt.MaxUpload = 300e6
	}
	if opt.Keep == 0 {
		opt.Keep = time.Hour
	}
	if opt.AtOnce == 0 {
		opt.AtOnce, opt.Waiting = 2, 16
	}
	server, err := New(opt)
	if err != nil {
		t.Fatal(err)
	}
	on, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(ctx, on) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if err := server.Close(); err != nil {
			t.Error(err)
		}
	})
	return server, "http://" + on.Addr().String()
}

// fillQueue takes all places, at work and waiting, until release is called.
func (s *Server) fillQueue(t testing.TB) (release func()) {
	t.Helper()
	n := cap(s.queue.places)
	for range n {
		select {
		case s.queue.places <- struct{}{}:
		case <-time.After(10 * time.Second):
			t.Fatal("the queue does not empty")
		}
	}
	return func() {
		for range n {
			<-s.queue.places
		}
	}
}

// fillWork takes all places at work, so that what is asked for waits until release is called.
func (s *Server) fillWork() (release func()) {
	n := cap(s.queue.working)
	for range n {
		s.queue.working <- struct{}{}
	}
	return func() {
		for range n {
			<-s.queue.working
		}
	}
}
