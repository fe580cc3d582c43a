package api

import (
	"context"
	"sync"
	"time"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
)

// A token is good for minutes, and somebody may be shut out sooner. So whether
// its sign-in still holds, in the role it names, is looked up in the store: in
// the transaction itself for every write, and before everything else for the
// rest. There what was found good is believed for a moment, because a
// salesperson's clicks come many a second.
const (
	// standingHolds is how long a sign-in that another process has ended may
	// still read here. What this process ends, it forgets at once.
	standingHolds = 2 * time.Second
	standingsHeld = 20_000
)

// standings remembers which sign-ins were found good, and when.
type standings struct {
	mu sync.Mutex
	// round goes up when all is forgotten, so that an answer of the store
	// that was on its way meanwhile is not remembered.
	round int
	found *recent[uuid.UUID, standing]
}

type standing struct {
	principal auth.Principal
	at        time.Time
}

func newStandings() *standings {
	return &standings{found: newRecent[uuid.UUID, standing](standingsHeld)}
}

// stands says whether a principal still is who their token says; if not, it is
// store.ErrShutOut.
func (s *Server) stands(ctx context.Context, p auth.Principal) error {
	now := s.now()
	round, good := s.standings.look(p, now)
	if good {
		return nil
	}
	if err := s.store.As(p).Read(ctx, store.ReadTx.Standing); err != nil {
		return err
	}
	s.standings.remember(p, now, round)
	return nil
}

func (k *standings) look(p auth.Principal, now time.Time) (round int, good bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	found, ok := k.found.get(p.SignIn)
	return k.round, ok && found.principal == p && now.Sub(found.at) < standingHolds
}

func (k *standings) remember(p auth.Principal, at time.Time, round int) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if round == k.round {
		k.found.put(p.SignIn, standing{p, at})
	}
}

// forget makes everybody be looked up anew: after every write that may have
// shut somebody out.
func (k *standings) forget() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.round++
	k.found.clear()
}
