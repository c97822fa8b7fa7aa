// How is a file from this phone opened? By a button; the same file may be opened again.

interface Props {
    /** endings and types that the browser offers first */
    accept: string;
    label: string;
    onFile: (file: File) => void;
}

export function FileEntry({ accept, label, onFile }: Props) {
    return (
        <label class="file">
            <input
                type="file"
                accept={accept}
                onChange={(event) => {
                    const input = event.currentTarget;
                    const file = input.files?.[0];
                    if (file) onFile(file);
                    input.value = "";
                }}
            />
            <span>{label}</span>
        </label>
    );
}
