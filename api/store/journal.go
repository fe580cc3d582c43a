package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// JournalLine says who did what to what, and when. It holds ids, never names.
type JournalLine struct {
	Seq    int64 // from 1, without gaps, in each workshop
	At     time.Time
	Person uuid.UUID
	Verb   string
	Noun   string
	ID     string
	// Content is a digest of what was written, so that the row behind it can
	// be held against the journal; empty where the row is personal data.
	Content []byte
	// Hash covers all of the above, the workshop, and Previous: the hash of
	// the line before (32 zero bytes for the first).
	Hash, Previous [sha256.Size]byte
}

// JournalHead is the last line of a journal: all a copy kept elsewhere needs
// to show later that nothing has been cut off the end.
type JournalHead struct {
	Seq  int64 // 0: nothing written yet
	Hash [sha256.Size]byte
}

// What is done to things, in the journal's words.
const (
	opened    = "opened"
	added     = "added"
	published = "published"
	proved    = "proved"
	created   = "created"
	changed   = "changed"
	quoted    = "quoted"
	erased    = "erased"

	moved = "moved" // of stock

	// of the books
	entered = "entered"
	closed  = "closed"
	decided = "decided" // of a cancelled job's deposits

	// of warnings about a release
	acknowledgedVerb = "acknowledged"
	carriedOver      = "carried over"

	// of quotes
	approved   = "approved" // the foreman's yes to an addition
	answered   = "answered" // a check that is not met, or an answer taken back
	followedUp = "followed up"
	issued     = "issued"
	revised    = "revised"
	superseded = "superseded"
	declined   = "declined"
	accepted   = "accepted"
	linked     = "linked"
	withdrawn  = "withdrawn"
	emptied    = "emptied" // of what is personal
)

// JournalHead is the workshop's last line as the transaction sees it.
func (t ReadTx) JournalHead() (JournalHead, error) {
	last, err := of[journalRow](t).order("seq DESC").first(1)
	if err != nil || len(last) == 0 {
		return JournalHead{}, err
	}
	line, err := last[0].line()
	return JournalHead{Seq: line.Seq, Hash: line.Hash}, err
}

// Journal gives at most limit lines after seq, in order.
func (t ReadTx) Journal(after int64, limit int) ([]JournalLine, error) {
	found, err := of[journalRow](t).where("seq > ?", after).order("seq").first(bounded(limit))
	if err != nil {
		return nil, err
	}
	lines := make([]JournalLine, len(found))
	for i, r := range found {
		if lines[i], err = r.line(); err != nil {
			return nil, err
		}
	}
	return lines, nil
}

// VerifyJournal works every line's hash out again, holds what the workshop's
// releases with their proofs, editions and quotes are now against what the journal last said of
// them, and gives the head it came to. Anything changed, added or taken out
// behind the store's back is an ErrJournal that says where; only a cut at the
// very end needs a head kept elsewhere to be seen.
func (t ReadTx) VerifyJournal() (JournalHead, error) {
	var head JournalHead
	last := map[[2]string][]byte{}
	for {
		lines, err := t.Journal(head.Seq, maxPage)
		if err != nil {
			return head, err
		}
		for _, l := range lines {
			switch {
			case l.Seq != head.Seq+1:
				return head, fmt.Errorf("%w: line %d is missing", ErrJournal, head.Seq+1)
			case l.Previous != head.Hash:
				return head, fmt.Errorf("%w: line %d does not follow line %d", ErrJournal, l.Seq, head.Seq)
			case l.Hash != l.digest(t.s.as.Workshop):
				return head, fmt.Errorf("%w: line %d has been changed", ErrJournal, l.Seq)
			}
			head = JournalHead{Seq: l.Seq, Hash: l.Hash}
			last[[2]string{l.Noun, l.ID}] = l.Content
		}
		if len(lines) < maxPage {
			return head, t.verifyThings(last)
		}
	}
}

// verifyThings holds the rows that have a digest against the journal.
func (t ReadTx) verifyThings(last map[[2]string][]byte) error {
	for _, check := range []func(map[[2]string][]byte) error{
		func(l map[[2]string][]byte) error { return verifyTable[releaseRow](t, "number", l) },
		func(l map[[2]string][]byte) error { return verifyTable[editionRow](t, "code", l) },
		func(l map[[2]string][]byte) error { return verifyTable[proofRow](t, "release", l) },
		t.verifyAcknowledgements,
		t.verifyQuotes,
		func(l map[[2]string][]byte) error { return verifyTable[linkRow](t, "id", l) },
		t.verifyAcceptances,
		func(l map[[2]string][]byte) error { return verifyTable[reservationRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[jobRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[agreedPriceRow](t, "id", l) },
		t.verifyVariations,
		func(l map[[2]string][]byte) error { return verifyTable[variationLinkRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[checkDueRow](t, "id", l) },
		t.verifyAttachments,
		func(l map[[2]string][]byte) error { return verifyTable[signatoryRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[floorRow](t, "workshop_id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[crewRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[slotRow](t, "job", l) },
		func(l map[[2]string][]byte) error { return verifyTable[calendarLinkRow](t, "id", l) },
		t.verifyStock,
		func(l map[[2]string][]byte) error { return verifyTable[binRow](t, "part", l) },
		func(l map[[2]string][]byte) error { return verifyTable[orderRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[substituteRow](t, "id", l) },
		t.verifyBooks,
		func(l map[[2]string][]byte) error { return verifyTable[receiptRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[invoiceRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[columnMapRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[statementRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[setAsideRuleRow](t, "id", l) },
		t.verifyBankAccounts,
		func(l map[[2]string][]byte) error { return verifyTable[purchasesRow](t, "workshop_id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[supplierInvoiceRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[supplierPaymentRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[stockVanRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[settlementRow](t, "job", l) },
		func(l map[[2]string][]byte) error { return verifyTable[takeOnRow](t, "workshop_id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[depositTakenOnRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[reconciliationRow](t, "id", l) },
		func(l map[[2]string][]byte) error { return verifyTable[settingsRow](t, "workshop_id", l) },
	} {
		if err := check(last); err != nil {
			return err
		}
	}
	for key, content := range last {
		if len(content) > 0 {
			return fmt.Errorf("%w: %s %s is gone", ErrJournal, key[0], key[1])
		}
	}
	return nil
}

// verifyTable takes every row it has seen out of last.
func verifyTable[R any, P interface {
	*R
	thing
	sealed() error
	key() any
}](t ReadTx, key string, last map[[2]string][]byte) error {
	var after any
	for {
		page := of[R](t).order(key)
		if after != nil {
			page = page.where(key+" > ?", after)
		}
		found, err := page.first(maxPage)
		if err != nil {
			return err
		}
		for i := range found {
			row := P(&found[i])
			noun, id, content := row.journalled()
			if !bytes.Equal(content, last[[2]string{noun, id}]) {
				return fmt.Errorf("%w: %s %s is not what was written", ErrJournal, noun, id)
			}
			if err := row.sealed(); err != nil {
				return fmt.Errorf("%w: %s %s: %w", ErrJournal, noun, id, err)
			}
			delete(last, [2]string{noun, id})
			after = row.key()
		}
		if len(found) < maxPage {
			return nil
		}
	}
}

// append writes the next line.
func (t WriteTx) append(verb, noun, id string, content []byte) error {
	if t.s.head == nil {
		head, err := t.JournalHead()
		if err != nil {
			return err
		}
		t.s.head = &head
	}
	line := JournalLine{
		Seq: t.s.head.Seq + 1, At: t.Now(), Person: t.s.as.Person,
		Verb: verb, Noun: noun, ID: id, Content: content, Previous: t.s.head.Hash,
	}
	line.Hash = line.digest(t.s.as.Workshop)
	if err := t.s.keep(rowOf(line)); err != nil {
		return err
	}
	t.s.head = &JournalHead{Seq: line.Seq, Hash: line.Hash}
	return nil
}

// digest works out a line's hash.
func (l JournalLine) digest(workshop uuid.UUID) [sha256.Size]byte {
	return digest("wainscot-journal/1", workshop[:], l.Seq, l.At.UnixMicro(), l.Person[:],
		l.Verb, l.Noun, l.ID, l.Content, l.Previous[:])
}

// digest is the SHA-256 of the parts, each with its length before it so that
// no two lists of parts look alike, under a name that says what they are.
func digest(domain string, parts ...any) [sha256.Size]byte {
	h := sha256.New()
	write := func(b []byte) {
		var n [8]byte
		binary.BigEndian.PutUint64(n[:], uint64(len(b)))
		h.Write(n[:])
		h.Write(b)
	}
	write([]byte(domain))
	for _, p := range parts {
		switch v := p.(type) {
		case string:
			write([]byte(v))
		case []byte:
			write(v)
		case int64:
			var n [8]byte
			binary.BigEndian.PutUint64(n[:], uint64(v))
			write(n[:])
		default:
			panic(fmt.Sprintf("digest of a %T", p))
		}
	}
	var sum [sha256.Size]byte
	h.Sum(sum[:0])
	return sum
}

type journalRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Seq        int64     `gorm:"primaryKey;autoIncrement:false"`
	AtUS       int64
	Person     uuid.UUID
	Verb       string
	Noun       string
	ID         string
	Content    []byte
	Hash       []byte
	Previous   []byte
}

// TableName for gorm.
func (journalRow) TableName() string { return "journal" }

func rowOf(l JournalLine) *journalRow {
	return &journalRow{
		Seq: l.Seq, AtUS: l.At.UnixMicro(), Person: l.Person, Verb: l.Verb, Noun: l.Noun, ID: l.ID,
		Content: append([]byte{}, l.Content...), Hash: l.Hash[:], Previous: l.Previous[:],
	}
}

func (r journalRow) line() (JournalLine, error) {
	l := JournalLine{
		Seq: r.Seq, At: moment(r.AtUS), Person: r.Person, Verb: r.Verb, Noun: r.Noun, ID: r.ID,
		Content: r.Content,
	}
	if copy(l.Hash[:], r.Hash) != len(l.Hash) || copy(l.Previous[:], r.Previous) != len(l.Previous) {
		return l, errors.Join(ErrJournal, fmt.Errorf("line %d has no whole hash", r.Seq))
	}
	return l, nil
}

// moment of so many microseconds since 1970.
func moment(us int64) time.Time { return time.UnixMicro(us).UTC() }
