package serving

import (
	"context"
	"errors"
)

// errBusy is what a request gets that finds no place to wait.
var errBusy = errors.New("too much is being judged at once")

// queue bounds the work: so many at once, so many waiting.
type queue struct {
	places  chan struct{} // of those at work and those waiting
	working chan struct{}
}

func newQueue(atOnce, waiting int) *queue {
	return &queue{make(chan struct{}, atOnce+waiting), make(chan struct{}, atOnce)}
}

// enter waits for its turn. It fails at once with errBusy where no place is left, and with ctx's error when ctx is done first.
func (q *queue) enter(ctx context.Context) (leave func(), err error) {
	select {
	case q.places <- struct{}{}:
	default:
		return nil, errBusy
	}
	select {
	case q.working <- struct{}{}:
		return func() { <-q.working; <-q.places }, nil
	case <-ctx.Done():
		<-q.places
		return nil, ctx.Err()
	}
}
