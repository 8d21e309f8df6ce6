# See that there is a browser for the tests that drive one: Debian's package, put in place where that is allowed.
#     sh tools/browser.sh
# Never fails: where there is none and none may be installed it says so, and those tests are skipped with that reason.
set -u
for name in chromium chromium-browser; do
    command -v "$name" >/dev/null 2>&1 && exit 0
done
if [ -n "${CHALAZA_NO_INSTALL:-}" ] || ! command -v apt-get >/dev/null 2>&1; then
    echo "no Chromium here and no way to install it: the browser tests are skipped"
    exit 0
fi
as=""
if [ "$(id -u)" != 0 ]; then
    if ! sudo -n true 2>/dev/null; then
        echo "no Chromium here, and installing it needs more rights (apt-get install chromium): the browser tests are skipped"
        exit 0
    fi
    as="sudo -n"
fi
echo "installing chromium for the browser tests ..."
export DEBIAN_FRONTEND=noninteractive
{ $as apt-get update -qq && $as apt-get install -y -qq --no-install-recommends chromium fonts-noto-core; }>.venv/.chromium.log 2>&1 \
    || echo "Chromium could not be installed ($(tail -n 1 .venv/.chromium.log)): the browser tests are skipped"
exit 0
