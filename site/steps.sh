# What does a machine need, and how are the wasm module and the page built? Sourced by site/run,
# tests/run and tests/bench/run (bash); each step prints one line and does nothing when there is
# nothing to do.

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
node_version=20.20.2 # Vite asks for 20.19 or newer; Debian 12 has 18
npm_version=11.19.1
wasm_packages=(cmake ninja-build emscripten libeigen3-dev nlohmann-json3-dev)
export PATH="$root/build-node/node_modules/.bin:$PATH"

say() { printf '%s\n' "$*"; }

# quietly "What is done" command...: one line; the command's own words only if it fails.
quietly() {
    local what=$1 began=$SECONDS log
    shift
    printf '%s ... ' "$what"
    log=$(mktemp)
    if "$@" >"$log" 2>&1 </dev/null; then
        printf 'done (%d s)\n' $((SECONDS - began))
        rm -f "$log"
    else
        printf 'failed (%d s)\n' $((SECONDS - began))
        cat "$log" >&2
        rm -f "$log"
        return 1
    fi
}

as_root() {
    if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi
}

installed() {
    [ "$(dpkg-query -W -f='${db:Status-Status}' "$1" 2>/dev/null)" = installed ]
}

apt_install() {
    # a source that does not answer is no reason to stop: the install says what is really missing
    as_root apt-get -q update || true
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -q install -y --no-install-recommends "$@"
}

# need_packages name...: installs the Debian packages that dpkg does not know as installed.
need_packages() {
    local missing=() package
    if ! command -v dpkg-query >/dev/null; then
        say "No dpkg here: taking it that this machine has what Debian calls: $*"
        return
    fi
    for package in "$@"; do
        installed "$package" || missing+=("$package")
    done
    [ ${#missing[@]} = 0 ] || quietly "Installing ${missing[*]}" apt_install "${missing[@]}"
}

node_is_new_enough() {
    node -e 'const [a, b] = process.versions.node.split(".").map(Number);
             process.exit(a > 20 || (a === 20 && b >= 19) ? 0 : 1)' 2>/dev/null
}

# Node.js 20.19 or newer with npm. Where the machine's own is older, one for this project alone is
# put into build-node.
need_node() {
    local cpu
    if ! command -v npm >/dev/null; then need_packages npm || return; fi
    if node_is_new_enough; then return; fi
    case $(uname -m) in
    x86_64) cpu=x64 ;;
    aarch64) cpu=arm64 ;;
    *)
        say "Node.js 20.19 or newer is needed here: $(node --version) is too old" >&2
        return 1
        ;;
    esac
    quietly "Installing Node.js $node_version into build-node" \
        npm install --prefix "$root/build-node" --no-save --no-package-lock --no-audit --no-fund \
        "node-linux-$cpu@$node_version" "npm@$npm_version" || return
    hash -r
    node_is_new_enough
}

# locked_packages folder "what": the npm packages of a folder, exactly as its package-lock.json names them.
locked_packages() {
    need_node || return
    local lock=$1/package-lock.json witness=$1/node_modules/.package-lock.json
    if [ ! -e "$witness" ] || [ "$lock" -nt "$witness" ]; then
        # no package builds or downloads anything by itself: the browsers are the machine's own
        quietly "Installing $2" \
            npm --prefix "$1" ci --ignore-scripts --no-audit --no-fund || return
        touch "$witness"
    fi
}
need_site_packages() { locked_packages "$root/site" "the page's npm packages"; }
need_engine_packages() {
    locked_packages "$root/tests/engines" "the npm packages of the tests in three engines"
}

# configure_wasm option...: sets build-wasm up, or changes what is named.
configure_wasm() {
    quietly "Setting up build-wasm" emcmake cmake -S "$root" -B "$root/build-wasm" -G Ninja "$@"
}

# hotband.wasm and of it the page's part, page.wasm, in site/public.
build_wasm() {
    quietly "Building hotband.wasm" cmake --build "$root/build-wasm" --target page_wasm
}

# The page in site/dist, unless nothing it is made from is newer.
build_page() {
    local stamp=$root/build-wasm/page.stamp
    if [ -e "$stamp" ] && [ -e "$root/site/dist/index.html" ] && [ -z "$(find \
        "$root/site" "$root/wasm" "$root/presets" \
        \( -name node_modules -o -type d -name 'dist*' \) -prune -o -type f -newer "$stamp" -print)" ]; then
        return
    fi
    touch "$stamp.new" # what is edited during the build is newer than this
    quietly "Building the page" npm --prefix "$root/site" run build || return
    quietly "Building the page as one file" npm --prefix "$root/site" run build:single || return
    mv "$stamp.new" "$stamp"
}
