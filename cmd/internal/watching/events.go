package watching

import (
	"errors"
	"io/fs"
	"sync"

	"github.com/fsnotify/fsnotify"
)

// events tell that something has changed in the folders followed. A nil *events never tells anything.
type events struct {
	from    *fsnotify.Watcher
	c       chan struct{}
	known   map[string]bool // folders followed
	fault   error           // why events cannot be relied on, told or not
	told    bool
	closing sync.WaitGroup
}

func listen() *events {
	e := &events{c: make(chan struct{}, 1)}
	if e.from, e.fault = fsnotify.NewWatcher(); e.fault != nil {
		return e
	}
	e.closing.Go(func() {
		for {
			select {
			case _, ok := <-e.from.Events:
				if !ok {
					return
				}
			case _, ok := <-e.from.Errors: // an overflow: something has changed all the same
				if !ok {
					return
				}
			}
			select {
			case e.c <- struct{}{}:
			default:
			}
		}
	})
	return e
}

func (e *events) wake() <-chan struct{} {
	if e == nil {
		return nil
	}
	return e.c
}

// work reports whether events can be relied on.
func (e *events) work() bool { return e != nil && e.fault == nil }

// err is why events cannot be relied on, once.
func (e *events) err() error {
	if e == nil || e.told || e.fault == nil {
		return nil
	}
	e.told = true
	return e.fault
}

// renew begins a look: folders taken away are no longer followed by the system, even if others of the same name stand there now.
func (e *events) renew() {
	if e == nil || e.from == nil {
		return
	}
	e.known = map[string]bool{}
	for _, path := range e.from.WatchList() {
		e.known[path] = true
	}
}

// follow asks for the events of one folder.
func (e *events) follow(path string) {
	if !e.work() || e.known[path] {
		return
	}
	if err := e.from.Add(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		e.fault = err
	}
}

func (e *events) close() {
	if e != nil && e.from != nil {
		e.from.Close()
		e.closing.Wait()
	}
}
