package api

import (
	"sync"
	"time"

	"github.com/google/uuid"

	"wainscot/api/store"
	"wainscot/bom/calendar"
)

// ground is what everything is worked out from in a workshop on a day.
type ground struct {
	workshop store.Workshop
	settings store.Settings
	today    string // where the workshop is
	day      string // the one asked for, or today; YYYY-MM-DD
	release  store.ReleaseEntry
	edition  store.EditionEntry
	working  calendar.Calendar // the days the workshop works
}

// Reading it takes six queries, a third of the time of a click, and it
// changes a few times a year. So what was read is believed for a moment, as a
// sign-in is (see standing).
const (
	// groundHolds is how long what another process has published may not be
	// seen here yet. What this process writes, it sees at once.
	groundHolds = 2 * time.Second
	groundsHeld = 2_000
)

// grounds remembers what was read, and when.
type grounds struct {
	mu    sync.Mutex
	found *recent[groundKey, heldGround]
}

type groundKey struct {
	workshop uuid.UUID
	day      string // as asked: "" for today
}

type heldGround struct {
	ground
	at     time.Time
	writes int64 // the transaction's GroundWrites
}

func newGrounds() *grounds { return &grounds{found: newRecent[groundKey, heldGround](groundsHeld)} }

// groundOn gives the ground of the transaction's workshop on a day; "" is today.
func (s *Server) groundOn(tx store.ReadTx, day string) (ground, error) {
	now := tx.Now()
	key := groundKey{tx.Principal().Workshop, day}
	writes := tx.GroundWrites()
	if found, ok := s.grounds.look(key); ok && found.writes == writes && now.Sub(found.at) < groundHolds {
		// A moment ago it may still have been yesterday.
		if today, err := today(now, found.workshop.TimeZone); err != nil || today == found.today {
			return found.ground, err
		}
	}
	g, err := readGround(tx, day)
	if err == nil {
		s.grounds.remember(key, heldGround{g, now, writes})
	}
	return g, err
}

func readGround(tx store.ReadTx, day string) (g ground, err error) {
	if g.workshop, err = tx.Workshop(); err != nil {
		return g, err
	}
	if g.today, err = today(tx.Now(), g.workshop.TimeZone); err != nil {
		return g, err
	}
	if g.settings, err = tx.Settings(); err != nil {
		return g, err
	}
	if g.release, err = latestRelease(tx); err != nil {
		return g, err
	}
	if g.day = day; day == "" {
		g.day = g.today
	}
	if g.edition, err = editionInForce(tx, g.day); err != nil {
		return g, err
	}
	g.working, err = workingDays(tx)
	return g, err
}

// workingDays are the days the workshop works.
func workingDays(tx store.ReadTx) (calendar.Calendar, error) {
	floor, err := tx.Floor()
	return floor.Content.Calendar, err
}

func (k *grounds) look(key groundKey) (heldGround, bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.found.get(key)
}

func (k *grounds) remember(key groundKey, g heldGround) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.found.put(key, g)
}
