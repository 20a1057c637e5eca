"""What is executed at the board's prompt, as text of the board's language.

Nothing here may need more than the board's own library, and no script leaves
a file half open: one that ends early closes what it wrote.
"""

# Helpers, sent once after the prompt is entered.
PREPARE = """
import os, sys, gc, hashlib, binascii
def fb_hash(path):
    gc.collect()
    h = hashlib.sha256()
    b = bytearray(512)
    m = memoryview(b)
    with open(path, 'rb') as f:
        while True:
            n = f.readinto(b)
            if not n:
                break
            h.update(m[:n])
    print(path, binascii.hexlify(h.digest()).decode())
def fb_walk(path):
    try:
        found = list(os.ilistdir(path))
    except OSError:
        return
    for e in found:
        p = path + '/' + e[0]
        if e[1] & 0x4000:
            print(p + '/', '-')
            fb_walk(p)
        else:
            fb_hash(p)
def fb_try(path):
    try:
        fb_hash(path)
    except OSError:
        pass
def fb_read(path):
    try:
        with open(path, 'rb') as f:
            print(binascii.hexlify(f.read(1024)).decode())
    except OSError:
        print('-')
def fb_mkdir(path):
    try:
        os.mkdir(path)
    except OSError:
        pass
def fb_remove(path):
    try:
        os.remove(path)
    except OSError as e:
        if e.errno != 2:
            raise
def fb_copy(source, path):
    gc.collect()
    b = bytearray(1024)
    m = memoryview(b)
    with open(source, 'rb') as f:
        with open(path, 'wb') as g:
            while True:
                n = f.readinto(b)
                if not n:
                    break
                g.write(m[:n])
def fb_part(data):
    fb_file.write(binascii.a2b_base64(data))
"""

IDENTITY = """
i = sys.implementation
print('.'.join(str(n) for n in i[1][:3]))
print(getattr(i, '_mpy', 0))
print(getattr(i, '_build', '-') or '-')
try:
    import machine
    print(binascii.hexlify(machine.unique_id()).decode())
except (ImportError, AttributeError):
    print('-')
try:
    s = os.statvfs('/')
    print(s[0], s[3])
except (OSError, AttributeError):
    print('0 0')
"""

RESTART = "import machine\nmachine.reset()"
