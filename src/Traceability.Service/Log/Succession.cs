using System.Globalization;

namespace Traceability.Service.Log;

/// <summary>What becomes of the key when a log ends and another continues it.</summary>
public enum KeyChange
{
    /// <summary>The new log has the same key.</summary>
    Keep,

    /// <summary>The new log has a key of its own, for which the old key signs.</summary>
    Succeed,

    /// <summary>The old key is gone: nothing signs for the new one, and the new log says so in its first leaf.</summary>
    Lost,
}

/// <summary>
/// The old log's last word: where it ended and under which name and key it goes on, signed by its own key. A checkpoint never begins like
/// this: its second line is a number.
/// </summary>
public static class Succession
{
    /// <summary>The signed statement.</summary>
    /// <param name="ended">The log that ends.</param>
    /// <param name="newOrigin">Name of the log that goes on.</param>
    /// <param name="oldKey">Signs.</param>
    /// <param name="newKey">Is signed for.</param>
    public static string Sign(EndedLog ended, string newOrigin, LogKey oldKey, LogKey newKey) => SignedNote.Sign(
        string.Create(CultureInfo.InvariantCulture, $"succession/v1\n{ended.Origin}\n{ended.Size}\n{Convert.ToBase64String(Convert.FromHexString(ended.Root))}\n{newOrigin}\n{newKey.VerifierKey(newOrigin)}\n"),
        ended.Origin, oldKey);
}
