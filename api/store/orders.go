package store

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"wainscot/pricing/order"
)

// OrderEntry is an order to a supplier without its document.
type OrderEntry struct {
	ID uuid.UUID
	// Number is what people call it by: from 1, without gaps, in each workshop.
	Number    int64
	Version   int64
	CreatedAt time.Time
	CreatedBy uuid.UUID
	ChangedAt time.Time
	State     order.State
	Supplier  string
	Name      string // of the supplier
	PlacedOn  string // YYYY-MM-DD, "" while it is a draft
	// DueOn is the first day anything of it is still due; "" where nothing is.
	DueOn   string
	Edition string // its prices are from, "" while it is a draft
}

// Order is an order with its document.
type Order struct {
	OrderEntry
	Document Packed
}

// PackOrder encodes an order, before a transaction.
func PackOrder(o *order.Order) (Packed, error) {
	text, err := o.Encode()
	if err != nil {
		return Packed{}, err
	}
	return Pack(text), nil
}

// Content reads the document of an order.
func (o Order) Content() (*order.Order, error) {
	text, err := o.Document.Unpack()
	if err != nil {
		return nil, fmt.Errorf("order %d: %w", o.Number, err)
	}
	return order.Decode(text)
}

// AddOrder keeps a new order under the next number. The document is what was
// packed of the content.
func (t WriteTx) AddOrder(content *order.Order, document Packed) (OrderEntry, error) {
	if err := document.checked(); err != nil {
		return OrderEntry{}, fmt.Errorf("order: %w", err)
	}
	number, err := nextNumber(t, "order")
	if err != nil {
		return OrderEntry{}, fmt.Errorf("numbering the order: %w", err)
	}
	e := OrderEntry{ID: t.NewID(), Number: number, Version: 1, CreatedAt: t.Now(), CreatedBy: t.Principal().Person, ChangedAt: t.Now()}
	e.say(content)
	if err := insert(t, added, orderRowOf(e, document)); err != nil {
		return OrderEntry{}, fmt.Errorf("order %d: %w", number, err)
	}
	return e, nil
}

// ChangeOrder puts what an order has become in the place of what it was.
// version is the one the change was made from, else it is ErrStale.
func (t WriteTx) ChangeOrder(id uuid.UUID, version int64, content *order.Order, document Packed) (OrderEntry, error) {
	if err := document.checked(); err != nil {
		return OrderEntry{}, fmt.Errorf("order %s: %w", id, err)
	}
	e, err := t.OrderEntry(id)
	if err != nil {
		return OrderEntry{}, err
	}
	e.Version, e.ChangedAt = version+1, t.Now()
	e.say(content)
	row := orderRowOf(e, document)
	err = change(t, changed, of[orderEntryRow](t.ReadTx).where("id = ? AND version = ?", id, version), map[string]any{
		"version": row.Entry.Version, "changed_us": row.Entry.ChangedUS, "state": row.Entry.State, "name": row.Entry.Name,
		"placed_on": row.Entry.PlacedOn, "due_on": row.Entry.DueOn, "edition": row.Entry.Edition,
		"document": row.Document, "document_sha256": row.Entry.DocumentSHA256,
	}, fmt.Errorf("order %s at version %d: %w", id, version, ErrStale), row)
	if err != nil {
		return OrderEntry{}, err
	}
	return e, nil
}

// say takes what stands beside the document from it.
func (e *OrderEntry) say(o *order.Order) {
	e.State, e.Supplier, e.Name, e.PlacedOn, e.Edition, e.DueOn = o.State, o.Supplier, o.Name, o.PlacedOn, o.Edition, ""
	if !o.State.Open() {
		return
	}
	for _, d := range o.Due("") {
		if e.DueOn == "" || d.Day < e.DueOn {
			e.DueOn = d.Day
		}
	}
}

// Order gives one order.
func (t ReadTx) Order(id uuid.UUID) (Order, error) {
	row, err := of[orderRow](t).where("id = ?", id).one()
	if err != nil {
		return Order{}, fmt.Errorf("order %s: %w", id, err)
	}
	return row.order(), nil
}

// OrderEntry gives one order without its document.
func (t ReadTx) OrderEntry(id uuid.UUID) (OrderEntry, error) {
	row, err := of[orderEntryRow](t).where("id = ?", id).one()
	if err != nil {
		return OrderEntry{}, fmt.Errorf("order %s: %w", id, err)
	}
	return row.entry(), nil
}

// OrderFilter says which orders to list.
type OrderFilter struct {
	State    order.State // "" means any
	Supplier string      // "" means any
	After    *Place      // nil begins at the newest
	Limit    int         // 0 means 50; at most 200
}

// Orders lists orders, the newest first. next is where to go on, nil at the
// end.
func (t ReadTx) Orders(f OrderFilter) (list []OrderEntry, next *Place, err error) {
	query := of[orderEntryRow](t)
	if f.State != "" {
		query = query.where("state = ?", string(f.State))
	}
	if f.Supplier != "" {
		query = query.where("supplier = ?", f.Supplier)
	}
	found, next, err := page(query, f.After, f.Limit, func(r orderEntryRow) Place { return Place{moment(r.CreatedUS), r.ID} })
	if err != nil {
		return nil, nil, fmt.Errorf("orders: %w", err)
	}
	list = make([]OrderEntry, len(found))
	for i, r := range found {
		list[i] = r.entry()
	}
	return list, next, nil
}

// StandingOrders are all drafts and all of which something is still to come,
// in the order of their numbers.
func (t ReadTx) StandingOrders() ([]Order, error) {
	found, err := of[orderRow](t).where("state = ? OR state = ? OR state = ?", string(order.Draft), string(order.Placed), string(order.PartDelivered)).
		order("number").all()
	if err != nil {
		return nil, fmt.Errorf("orders: %w", err)
	}
	list := make([]Order, len(found))
	for i := range found {
		list[i] = found[i].order()
	}
	return list, nil
}

// OrdersSince are all that were placed on a day or later and not cancelled, in
// the order of their numbers.
func (t ReadTx) OrdersSince(day string) ([]Order, error) {
	found, err := of[orderRow](t).where("placed_on >= ? AND state <> ?", day, string(order.Cancelled)).order("number").all()
	if err != nil {
		return nil, fmt.Errorf("orders: %w", err)
	}
	list := make([]Order, len(found))
	for i := range found {
		list[i] = found[i].order()
	}
	return list, nil
}

type orderEntryRow struct {
	WorkshopID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Number         int64
	Version        int64
	CreatedUS      int64
	CreatedBy      uuid.UUID
	ChangedUS      int64
	State          string
	Supplier       string
	Name           string
	PlacedOn       string
	DueOn          string
	Edition        *string
	DocumentSHA256 string `gorm:"column:document_sha256"`
}

// TableName for gorm.
func (orderEntryRow) TableName() string { return "orders" }

func (r orderEntryRow) entry() OrderEntry {
	e := OrderEntry{
		ID: r.ID, Number: r.Number, Version: r.Version, CreatedAt: moment(r.CreatedUS), CreatedBy: r.CreatedBy, ChangedAt: moment(r.ChangedUS),
		State: order.State(r.State), Supplier: r.Supplier, Name: r.Name, PlacedOn: r.PlacedOn, DueOn: r.DueOn,
	}
	if r.Edition != nil {
		e.Edition = *r.Edition
	}
	return e
}

type orderRow struct {
	Entry    orderEntryRow `gorm:"embedded"`
	Document []byte
}

// TableName for gorm.
func (*orderRow) TableName() string { return "orders" }

func orderRowOf(e OrderEntry, document Packed) *orderRow {
	r := &orderRow{
		Entry: orderEntryRow{
			ID: e.ID, Number: e.Number, Version: e.Version, CreatedUS: e.CreatedAt.UnixMicro(), CreatedBy: e.CreatedBy, ChangedUS: e.ChangedAt.UnixMicro(),
			State: string(e.State), Supplier: e.Supplier, Name: e.Name, PlacedOn: e.PlacedOn, DueOn: e.DueOn, DocumentSHA256: document.sum,
		},
		Document: document.zipped,
	}
	if e.Edition != "" {
		r.Entry.Edition = &e.Edition
	}
	return r
}

func (r *orderRow) bind(workshop uuid.UUID) { r.Entry.WorkshopID = workshop }

func (r *orderRow) journalled() (noun, id string, content []byte) {
	e := r.Entry
	edition := ""
	if e.Edition != nil {
		edition = *e.Edition
	}
	sum := digest("wainscot-order-row/1", e.Number, e.Version, e.CreatedUS, e.CreatedBy[:], e.ChangedUS, e.State, e.Supplier, e.Name,
		e.PlacedOn, e.DueOn, edition, e.DocumentSHA256)
	return "order", e.ID.String(), sum[:]
}

func (r *orderRow) sealed() error {
	_, err := Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}.Unpack()
	return err
}

func (r *orderRow) key() any { return r.Entry.ID }

func (r *orderRow) order() Order {
	return Order{OrderEntry: r.Entry.entry(), Document: Packed{zipped: r.Document, sum: r.Entry.DocumentSHA256}}
}
