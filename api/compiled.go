package api

import (
	"container/list"
	"context"
	"sync"
)

// compiled keeps what is costly to make from a document (a release with its
// rules, a price-book edition) by the document's content hash, so that
// workshops with the same one share it. It holds as much as its limit allows,
// by weight, the longest unused goes first, and makes one thing at a time:
// compiling takes all of a processor and much memory.
type compiled[T any] struct {
	limit  int
	making chan struct{}

	mu     sync.Mutex
	weight int
	held   map[string]*list.Element
	used   list.List // of *keptThing[T], the last used first
}

type keptThing[T any] struct {
	hash   string
	thing  T
	weight int
}

func newCompiled[T any](limit int) *compiled[T] {
	return &compiled[T]{limit: limit, making: make(chan struct{}, 1), held: map[string]*list.Element{}}
}

// get gives what belongs to the hash, from compile if it is not held; compile
// also says its weight. Waiting for another's making ends with ctx.
func (k *compiled[T]) get(ctx context.Context, hash string, compile func() (T, int, error)) (T, error) {
	if thing, ok := k.look(hash); ok {
		return thing, nil
	}
	var none T
	select {
	case k.making <- struct{}{}:
		defer func() { <-k.making }()
	case <-ctx.Done():
		return none, ctx.Err()
	}
	if thing, ok := k.look(hash); ok { // made while we waited
		return thing, nil
	}
	thing, weight, err := compile()
	if err != nil {
		return none, err
	}
	k.keep(hash, thing, max(weight, 1))
	return thing, nil
}

func (k *compiled[T]) look(hash string) (T, bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	at, ok := k.held[hash]
	if !ok {
		var none T
		return none, false
	}
	k.used.MoveToFront(at)
	return at.Value.(*keptThing[T]).thing, true //nolint:errcheck,forcetypeassert // the list holds nothing else
}

func (k *compiled[T]) keep(hash string, thing T, weight int) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.held[hash] = k.used.PushFront(&keptThing[T]{hash: hash, thing: thing, weight: weight})
	k.weight += weight
	for k.weight > k.limit && k.used.Len() > 1 { // the newest stays, however heavy
		last := k.used.Back()
		gone := k.used.Remove(last).(*keptThing[T]) //nolint:errcheck,forcetypeassert // as above
		delete(k.held, gone.hash)
		k.weight -= gone.weight
	}
}
