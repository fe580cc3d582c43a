package store

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"wainscot/bom/supply"
)

// Stock is what is on the shelf of one part or kit.
type Stock struct {
	Part string
	// Version goes up with every movement, and when what is kept for jobs
	// changes; 0: nothing has ever moved.
	Version   int64
	ChangedAt time.Time
	// Moved counts the movements.
	Moved int64
	supply.Stock
	sum string
}

// StockMove is a movement to be kept.
type StockMove struct {
	supply.Movement
	Job      uuid.UUID // the nil id: none; goes before Movement.Job
	Stage    string    // of the job
	Kit      string    // built in
	Order    uuid.UUID // delivered by
	Delivery int64     // and the delivery, from 1
	Knowing  bool
}

// StockMovement is a movement that was kept.
type StockMovement struct {
	Part string
	// Number in the part's own row, from 1, without gaps.
	Number   int64
	At       time.Time
	By       uuid.UUID
	Kind     supply.MovementKind
	Change   decimal.Decimal
	OnHand   decimal.Decimal // afterwards
	Knowing  bool
	Job      uuid.UUID
	Stage    string
	Kit      string
	Order    uuid.UUID
	Delivery int64
}

// MoveStock keeps a movement of a part or kit and gives the stock afterwards.
// What cannot move is document.Faults.
func (t WriteTx) MoveStock(part string, m StockMove) (Stock, supply.Moved, error) {
	was, err := t.Stock(part)
	if err != nil {
		return Stock{}, supply.Moved{}, err
	}
	if m.Job != uuid.Nil {
		m.Movement.Job = m.Job.String()
	}
	after, did, faults := was.Move(m.Movement, m.Knowing)
	if len(faults) > 0 {
		return was, did, fmt.Errorf("stock of %s: %w", part, faults)
	}
	now := was
	now.Stock, now.Moved = after, was.Moved+1
	row := movementRow{
		Part: part, Number: now.Moved, AtUS: t.Now().UnixMicro(), MovedBy: t.Principal().Person, Kind: string(m.Kind),
		Change: did.Change.String(), OnHand: after.OnHand.String(), Knowing: bit(m.Knowing && (did.Below || did.Short)), Job: orNull(m.Job),
		Stage: m.Stage, Kit: m.Kit, PartsOrder: orNull(m.Order), Delivery: m.Delivery,
	}
	now.sum = row.after(was.sum)
	if now, err = t.writeStock(was, now); err != nil {
		return Stock{}, supply.Moved{}, err
	}
	// The digest of the stock covers the movement: it has no line of its own.
	return now, did, jot(t, &row)
}

// KeepStock puts what of the stock is kept for a job to a quantity. What is not
// there to be kept is document.Faults.
func (t WriteTx) KeepStock(part string, job uuid.UUID, quantity decimal.Decimal) (Stock, error) {
	was, err := t.Stock(part)
	if err != nil {
		return Stock{}, err
	}
	after, faults := was.Keep(job.String(), quantity)
	if len(faults) > 0 {
		return was, fmt.Errorf("stock of %s: %w", part, faults)
	}
	now := was
	now.Stock = after
	return t.writeStock(was, now)
}

// writeStock writes what the stock of a part has become.
func (t WriteTx) writeStock(was, now Stock) (Stock, error) {
	now.Version, now.ChangedAt = was.Version+1, t.Now()
	row, err := stockRowOf(now)
	if err != nil {
		return Stock{}, err
	}
	if was.Version == 0 {
		return now, insert(t, moved, row)
	}
	err = change(t, moved, of[stockRow](t.ReadTx).where("part = ? AND version = ?", now.Part, was.Version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "moved": row.Moved, "on_hand": row.OnHand, "kept": row.Kept, "sum": row.Sum,
	}, fmt.Errorf("stock of %s: %w", now.Part, ErrStale), row)
	return now, err
}

// Stock of one part or kit; one of which nothing ever moved has version 0.
func (t ReadTx) Stock(part string) (Stock, error) {
	found, err := of[stockRow](t).where("part = ?", part).first(1)
	if err != nil {
		return Stock{}, fmt.Errorf("stock of %s: %w", part, err)
	}
	if len(found) == 0 {
		return Stock{Part: part, sum: noMovements}, nil
	}
	return found[0].stock()
}

// Stocks gives at most limit of all that ever moved, by code, after one.
func (t ReadTx) Stocks(after string, limit int) ([]Stock, error) {
	found, err := of[stockRow](t).where("part > ?", after).order("part").first(bounded(limit))
	if err != nil {
		return nil, fmt.Errorf("stock: %w", err)
	}
	return stocksOf(found)
}

// AllStock is all that ever moved, by code.
func (t ReadTx) AllStock() ([]Stock, error) {
	found, err := of[stockRow](t).order("part").all()
	if err != nil {
		return nil, fmt.Errorf("stock: %w", err)
	}
	return stocksOf(found)
}

func stocksOf(found []stockRow) ([]Stock, error) {
	list := make([]Stock, len(found))
	for i := range found {
		var err error
		if list[i], err = found[i].stock(); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// StockMovements gives at most limit movements of a part, the latest first;
// before is the number to go on before, 0 begins at the latest.
func (t ReadTx) StockMovements(part string, before int64, limit int) ([]StockMovement, error) {
	query := of[movementRow](t).where("part = ?", part).order("number DESC")
	if before > 0 {
		query = query.where("number < ?", before)
	}
	found, err := query.first(bounded(limit))
	if err != nil {
		return nil, fmt.Errorf("movements of %s: %w", part, err)
	}
	return movementsOf(found)
}

// MovedForJob are all movements to and from a job, by part.
func (t ReadTx) MovedForJob(job uuid.UUID) ([]StockMovement, error) {
	found, err := of[movementRow](t).where("job = ?", job).order("part, number").all()
	if err != nil {
		return nil, fmt.Errorf("movements of job %s: %w", job, err)
	}
	return movementsOf(found)
}

func movementsOf(found []movementRow) ([]StockMovement, error) {
	list := make([]StockMovement, len(found))
	for i := range found {
		var err error
		if list[i], err = found[i].movement(); err != nil {
			return nil, err
		}
	}
	return list, nil
}

type stockRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Part       string    `gorm:"primaryKey"`
	Version    int64
	ChangedUS  int64
	Moved      int64
	OnHand     string
	Kept       string
	Sum        string
}

// TableName for gorm.
func (*stockRow) TableName() string { return "stock" }

func (r *stockRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *stockRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-stock/1", r.Version, r.ChangedUS, r.Moved, r.OnHand, r.Kept, r.Sum)
	return "stock", r.Part, sum[:]
}

func (*stockRow) sealed() error { return nil }

func (r *stockRow) key() any { return r.Part }

func stockRowOf(s Stock) (*stockRow, error) {
	if s.Kept == nil {
		s.Kept = []supply.Kept{}
	}
	kept, err := json.Marshal(s.Kept)
	if err != nil {
		return nil, err
	}
	return &stockRow{Part: s.Part, Version: s.Version, ChangedUS: s.ChangedAt.UnixMicro(), Moved: s.Moved,
		OnHand: s.OnHand.String(), Kept: string(kept), Sum: s.sum}, nil
}

func (r *stockRow) stock() (Stock, error) {
	s := Stock{Part: r.Part, Version: r.Version, ChangedAt: moment(r.ChangedUS), Moved: r.Moved, sum: r.Sum}
	var err error
	if s.OnHand, err = decimal.NewFromString(r.OnHand); err != nil {
		return Stock{}, fmt.Errorf("stock of %s: %w", r.Part, err)
	}
	if err = json.Unmarshal([]byte(r.Kept), &s.Kept); err != nil {
		return Stock{}, fmt.Errorf("stock of %s: %w", r.Part, err)
	}
	return s, nil
}

type movementRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Part       string    `gorm:"primaryKey"`
	Number     int64     `gorm:"primaryKey"`
	AtUS       int64
	MovedBy    uuid.UUID
	Kind       string
	Change     string
	OnHand     string
	Knowing    int64
	Job        uuid.NullUUID
	Stage      string
	Kit        string
	PartsOrder uuid.NullUUID
	Delivery   int64
}

// TableName for gorm.
func (*movementRow) TableName() string { return "stock_movements" }

func (r *movementRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

// noMovements is the digest of none.
const noMovements = "0000000000000000000000000000000000000000000000000000000000000000"

// after is the digest of all movements of a part with this one, given that of
// those before it.
func (r *movementRow) after(before string) string {
	sum := digest("wainscot-stock-movement/1", before, r.Part, r.Number, r.AtUS, r.MovedBy[:], r.Kind, r.Change, r.OnHand, r.Knowing,
		r.Job.UUID[:], r.Stage, r.Kit, r.PartsOrder.UUID[:], r.Delivery)
	return hex.EncodeToString(sum[:])
}

func (r *movementRow) movement() (StockMovement, error) {
	m := StockMovement{
		Part: r.Part, Number: r.Number, At: moment(r.AtUS), By: r.MovedBy, Kind: supply.MovementKind(r.Kind), Knowing: r.Knowing == 1,
		Job: r.Job.UUID, Stage: r.Stage, Kit: r.Kit, Order: r.PartsOrder.UUID, Delivery: r.Delivery,
	}
	var err error
	if m.Change, err = decimal.NewFromString(r.Change); err == nil {
		m.OnHand, err = decimal.NewFromString(r.OnHand)
	}
	if err != nil {
		return m, fmt.Errorf("movement %d of %s: %w", r.Number, r.Part, err)
	}
	return m, nil
}

// verifyStock holds what is on hand against the sum of all movements, and the
// digest of them against the one the journal vouches for.
func (t ReadTx) verifyStock(last map[[2]string][]byte) error {
	if err := verifyTable[stockRow](t, "part", last); err != nil {
		return err
	}
	all, err := t.AllStock()
	if err != nil {
		return err
	}
	for i := range all {
		if err := t.verifyMovements(&all[i]); err != nil {
			return err
		}
	}
	return nil
}

func (t ReadTx) verifyMovements(s *Stock) error {
	var number int64
	var onHand decimal.Decimal
	sum := noMovements
	for {
		found, err := of[movementRow](t).where("part = ? AND number > ?", s.Part, number).order("number").first(maxPage)
		if err != nil {
			return err
		}
		for i := range found {
			m, err := found[i].movement()
			if err != nil {
				return err
			}
			number++
			onHand, sum = onHand.Add(m.Change), found[i].after(sum)
			if m.Number != number || !m.OnHand.Equal(onHand) {
				return fmt.Errorf("%w: movement %d of %s", ErrJournal, number, s.Part)
			}
		}
		if len(found) < maxPage {
			break
		}
	}
	if number != s.Moved || sum != s.sum || !onHand.Equal(s.OnHand) {
		return fmt.Errorf("%w: the stock of %s is not what has moved", ErrJournal, s.Part)
	}
	return nil
}

// Bin is a part that is topped up from two bins.
type Bin struct {
	Part      string
	Version   int64
	ChangedAt time.Time
	// Least on the shelf: with so much or less, TopUp is ordered. TopUp 0: it
	// is not topped up any more.
	Least, TopUp decimal.Decimal
}

// SetBin says how a part is topped up. version is 0 for one that had no bin.
func (t WriteTx) SetBin(part string, version int64, least, topUp decimal.Decimal) (Bin, error) {
	b := Bin{Part: part, Version: version + 1, ChangedAt: t.Now(), Least: least, TopUp: topUp}
	row := &binRow{Part: part, Version: b.Version, ChangedUS: b.ChangedAt.UnixMicro(), Least: least.String(), TopUp: topUp.String()}
	if version == 0 {
		return b, insert(t, added, row)
	}
	err := change(t, changed, of[binRow](t.ReadTx).where("part = ? AND version = ?", part, version), map[string]any{
		"version": row.Version, "changed_us": row.ChangedUS, "least": row.Least, "top_up": row.TopUp,
	}, fmt.Errorf("bin of %s at version %d: %w", part, version, ErrStale), row)
	return b, err
}

// Bin of a part, or ErrNotFound.
func (t ReadTx) Bin(part string) (Bin, error) {
	row, err := of[binRow](t).where("part = ?", part).one()
	if err != nil {
		return Bin{}, fmt.Errorf("bin of %s: %w", part, err)
	}
	return row.bin()
}

// Bins are all bins, by part.
func (t ReadTx) Bins() ([]Bin, error) {
	found, err := of[binRow](t).order("part").all()
	if err != nil {
		return nil, fmt.Errorf("bins: %w", err)
	}
	return each(found, (*binRow).bin)
}

type binRow struct {
	WorkshopID uuid.UUID `gorm:"primaryKey"`
	Part       string    `gorm:"primaryKey"`
	Version    int64
	ChangedUS  int64
	Least      string
	TopUp      string
}

// TableName for gorm.
func (*binRow) TableName() string { return "bins" }

func (r *binRow) bind(workshop uuid.UUID) { r.WorkshopID = workshop }

func (r *binRow) journalled() (noun, id string, content []byte) {
	sum := digest("wainscot-bin/1", r.Version, r.ChangedUS, r.Least, r.TopUp)
	return "bin", r.Part, sum[:]
}

func (*binRow) sealed() error { return nil }

func (r *binRow) key() any { return r.Part }

func (r *binRow) bin() (Bin, error) {
	b := Bin{Part: r.Part, Version: r.Version, ChangedAt: moment(r.ChangedUS)}
	var err error
	if b.Least, err = decimal.NewFromString(r.Least); err == nil {
		b.TopUp, err = decimal.NewFromString(r.TopUp)
	}
	if err != nil {
		return b, fmt.Errorf("bin of %s: %w", r.Part, err)
	}
	return b, nil
}
