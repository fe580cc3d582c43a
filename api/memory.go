package api

import (
	"os"
	"runtime/debug"
	"sync"

	"github.com/gin-gonic/gin"

	"wainscot/bom"
)

// What a serving program holds for good, releases and price-books that were
// compiled, is some tens of MiB; each request leaves a few hundred KiB of
// garbage. At Go's own setting, a collection each time the heap has doubled,
// collecting took a sixth of the processor's time of a new draft. So the heap
// may grow to nine times what is held, and is collected as often as need be
// where that would be more than the memory the program is given.
const (
	garbagePercent = 800
	// MemoryMiB is the memory it is given where nobody says.
	MemoryMiB = 1024
)

// CollectSeldom sets how much garbage the whole process may hold: memory, in
// MiB, is about what it may take in all. It is a wish and no wall: what is held
// and cannot be collected goes beyond it. GOGC or GOMEMLIMIT in the environment
// stand in its place. It gives a func that sets all back as it was.
func CollectSeldom(memoryMiB int) (undo func()) {
	undo = func() {}
	if os.Getenv("GOGC") == "" {
		was := debug.SetGCPercent(garbagePercent)
		undo = func() { debug.SetGCPercent(was) }
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		was, percent := debug.SetMemoryLimit(int64(memoryMiB)<<20), undo
		undo = func() { percent(); debug.SetMemoryLimit(was) }
	}
	return undo
}

// rooms are those not in use.
var rooms sync.Pool

// roomOf is the room in which a request's sheets are made. They are good until
// it has been answered.
func roomOf(c *gin.Context) *bom.Room {
	if room, ok := c.Value(roomKey).(*bom.Room); ok {
		return room
	}
	room, ok := rooms.Get().(*bom.Room)
	if !ok {
		room = &bom.Room{}
	}
	c.Set(roomKey, room)
	return room
}

// leaveRoom is for when a request has been answered.
func leaveRoom(c *gin.Context) {
	if room, ok := c.Value(roomKey).(*bom.Room); ok {
		room.Clear()
		rooms.Put(room)
	}
}
