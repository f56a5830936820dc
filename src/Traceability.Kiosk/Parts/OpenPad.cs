namespace Traceability.Kiosk.Parts;

/// <summary>Which field's pad is open; one at a time.</summary>
public sealed class OpenPad
{
    public string? Field { get; private set; }

    public event Action? Changed;

    public void Open(string? field)
    {
        if (Field == field) return;
        Field = field;
        Changed?.Invoke();
    }
}
