// Under which licences is the page? A text beside it, fetched when somebody asks.

export async function readLicences(): Promise<string> {
    const answer = await fetch("licences.txt");
    if (!answer.ok) throw new Error(answer.statusText);
    return answer.text();
}
