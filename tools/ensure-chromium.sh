#!/bin/sh
# The browser tests drive the system's Chromium. Install it when missing and allowed to; else say the one line to run.
for name in chromium chromium-browser; do
    command -v "$name" >/dev/null 2>&1 && exit 0
done
if command -v apt-get >/dev/null 2>&1; then
    if [ "$(id -u)" = 0 ]; then
        echo "installing Chromium for the browser tests (once) …"
        apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium >/dev/null && exit 0
        echo "Chromium could not be installed; the browser tests need it: apt-get install chromium"
        exit 1
    fi
    echo "The browser tests need Chromium. Run:  sudo apt-get install chromium"
    exit 1
fi
echo "The browser tests need Chromium on the PATH; install it with this system's package manager."
exit 1
