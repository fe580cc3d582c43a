package api

import (
	"container/list"
	"sync"
)

// recent is a map that holds the entries used last, so many at most: the
// longest unused goes first. Its owner locks it.
type recent[K comparable, V any] struct {
	most int
	held map[K]*list.Element
	used list.List // of recentEntry[K, V], the last used first
}

type recentEntry[K comparable, V any] struct {
	key   K
	value V
}

func newRecent[K comparable, V any](most int) *recent[K, V] {
	return &recent[K, V]{most: most, held: map[K]*list.Element{}}
}

func (r *recent[K, V]) get(key K) (V, bool) {
	at, ok := r.held[key]
	if !ok {
		var none V
		return none, false
	}
	r.used.MoveToFront(at)
	return at.Value.(recentEntry[K, V]).value, true //nolint:errcheck,forcetypeassert // the list holds nothing else
}

func (r *recent[K, V]) put(key K, value V) {
	entry := recentEntry[K, V]{key, value}
	if at, ok := r.held[key]; ok {
		at.Value = entry
		r.used.MoveToFront(at)
		return
	}
	r.held[key] = r.used.PushFront(entry)
	if r.used.Len() > r.most {
		last := r.used.Remove(r.used.Back()).(recentEntry[K, V]) //nolint:errcheck,forcetypeassert // as above
		delete(r.held, last.key)
	}
}

func (r *recent[K, V]) clear() {
	clear(r.held)
	r.used.Init()
}

// shared is a recent for several at once.
type shared[K comparable, V any] struct {
	mu    sync.Mutex
	found *recent[K, V]
}

func newShared[K comparable, V any](most int) *shared[K, V] {
	return &shared[K, V]{found: newRecent[K, V](most)}
}

func (s *shared[K, V]) get(key K) (V, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.found.get(key)
}

func (s *shared[K, V]) put(key K, value V) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.found.put(key, value)
}
