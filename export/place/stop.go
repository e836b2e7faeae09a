package place

import (
	"os"
	"sync"
	"time"
)

// placing is held for reading while a folder is put into its place, and for ever by RemoveUnfinished.
var placing sync.RWMutex

// unfinished lists what removes the folders that are being made.
var unfinished struct {
	sync.Mutex
	last   int
	remove map[int]func()
	placed bool // a folder was put into its place
}

// whenStopped notes what removes a folder when the program is stopped; done takes the note back.
func whenStopped(remove func()) (done func()) {
	unfinished.Lock()
	defer unfinished.Unlock()
	unfinished.last++
	n := unfinished.last
	if unfinished.remove == nil {
		unfinished.remove = map[int]func(){}
	}
	unfinished.remove[n] = remove
	return func() {
		unfinished.Lock()
		defer unfinished.Unlock()
		delete(unfinished.remove, n)
	}
}

// Temp makes a folder for temporary files; prefix begins its name. remove removes it; RemoveUnfinished does so too.
func Temp(prefix string) (dir string, remove func(), err error) {
	if dir, err = os.MkdirTemp("", prefix); err != nil {
		return "", nil, err
	}
	done := whenStopped(func() { os.RemoveAll(dir) })
	return dir, func() {
		os.RemoveAll(dir)
		done()
	}, nil
}

// stopWait is how long RemoveUnfinished waits for a folder that is being put into its place.
const stopWait = 200 * time.Millisecond

// RemoveUnfinished removes the folders that are being made, for a program that is told to stop and ends without waiting
// for its work. Nothing is put into its place afterwards. When a folder is just being put there, it is left as it is:
// the next Begin clears up. It says whether a folder of this run is or may be in its place.
func RemoveUnfinished() (placed bool) {
	for range stopWait / time.Millisecond {
		if placing.TryLock() {
			unfinished.Lock()
			for _, remove := range unfinished.remove {
				remove()
			}
			return unfinished.placed
		}
		time.Sleep(time.Millisecond)
	}
	return true
}
