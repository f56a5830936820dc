namespace Traceability.Service.Packets;

/// <summary>Files of this folder that travel inside the assembly: fonts and the agencies' templates.</summary>
internal static class PacketResources
{
    private const string Root = "Traceability.Service.Packets.";

    public static byte[] Bytes(string name)
    {
        using var stream = typeof(PacketResources).Assembly.GetManifestResourceStream(Root + name)
            ?? throw new InvalidOperationException($"The resource {Root + name} is not in the assembly.");
        using var copy = new MemoryStream();
        stream.CopyTo(copy);
        return copy.ToArray();
    }

    public static IEnumerable<string> Names(string folder) =>
        typeof(PacketResources).Assembly.GetManifestResourceNames()
            .Where(n => n.StartsWith(Root + folder + ".", StringComparison.Ordinal)).Select(n => n[Root.Length..]).Order(StringComparer.Ordinal);
}
