package api

import (
	"sync"

	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
)

// A draft is mostly issued moments after it was kept, by the same process. A
// version names one content for good, so what was kept last need not be read
// again to be worked out; and the transaction that issues it asks whether that
// version is still the quote's.
const draftsHeld = 5_000 // of some two kilobytes each

// drafts remembers those kept last.
type drafts struct {
	mu   sync.Mutex
	held *recent[draftKey, heldDraft]
}

type draftKey struct{ workshop, quote uuid.UUID }

// heldDraft is a draft as it was committed.
type heldDraft struct {
	head  store.QuoteEntry
	asked store.Packed
}

func newDrafts() *drafts { return &drafts{held: newRecent[draftKey, heldDraft](draftsHeld)} }

// remember keeps a draft at hand once it is committed, without what is personal:
// that may be erased, and issuing does not need it.
func (d *drafts) remember(p auth.Principal, head store.QuoteEntry, asked store.Packed) {
	head.Note, head.Vans = "", nil
	d.mu.Lock()
	defer d.mu.Unlock()
	d.held.put(draftKey{p.Workshop, head.ID}, heldDraft{head, asked})
}

// look gives a draft of the principal's workshop at a version.
func (d *drafts) look(p auth.Principal, quote uuid.UUID, version int64) (heldDraft, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	found, ok := d.held.get(draftKey{p.Workshop, quote})
	return found, ok && found.head.Version == version
}
