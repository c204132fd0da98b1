package serving

import (
	"context"
	"errors"
	"time"
)

// errBusy is what a request gets that finds no place to wait.
var errBusy = errors.New("too much is being judged at once")

// queue bounds the work: so many at once, so many waiting.
type queue struct {
	places  chan struct{} // of those at work and those waiting
	working chan struct{}
	last    chan struct{} // one that nobody waits for
}

func newQueue(atOnce, waiting int) *queue {
	return &queue{make(chan struct{}, atOnce+waiting), make(chan struct{}, atOnce), make(chan struct{}, 1)}
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

// lookAgain is how often what nobody waits for looks whether it may begin.
const lookAgain = 20 * time.Millisecond

// enterLast waits until nobody else is at work or waiting: a file that is dropped now should not wait for the tenth page of another.
func (q *queue) enterLast(ctx context.Context) (leave func(), err error) {
	select {
	case q.last <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	tick := time.NewTicker(lookAgain)
	defer tick.Stop()
	for len(q.places) > 0 {
		select {
		case <-tick.C:
		case <-ctx.Done():
			<-q.last
			return nil, ctx.Err()
		}
	}
	return func() { <-q.last }, nil
}
