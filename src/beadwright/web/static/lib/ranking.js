// Pure: words for what a new answer changed. Each ranking is a list of {name, chance}, most likely first.
export function leaderChange(before, after) {
  const [was] = before;
  const [now] = after;
  if (!now) return "No cause is ranked.";
  if (!was || was.name !== now.name) return `Now leading: ${now.name}, ${now.chance}.`;
  if (was.chance === now.chance) return `${now.name} still leads with ${now.chance}.`;
  return `${now.name} still leads: ${was.chance} before, ${now.chance} now.`;
}
