using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Microsoft.AspNetCore.Identity;

namespace Traceability.Service.People;

/// <summary>What one hash costs.</summary>
/// <param name="Iterations">Rounds of PBKDF2.</param>
public sealed record SecretCost(int Iterations)
{
    /// <summary>PBKDF2-HMAC-SHA512 with 210,000 rounds: OWASP Password Storage Cheat Sheet, section PBKDF2. No setting lowers it.</summary>
    public static readonly SecretCost Default = new(210_000);
}

/// <summary>
/// Hashes passwords and PINs: HMAC-SHA256 with a key that is never in the database, then PBKDF2-HMAC-SHA512. A copy of the database alone so
/// tries no PIN. The key stands in the file of the setting <c>Secrets:KeyFile</c>, made at first use: base64 of 32 bytes, one key a line, the first
/// for new hashes, the others for those made before a change of keys. A hash says which key it was made with.
/// </summary>
public sealed class Secrets(IConfiguration configuration, SecretCost cost)
{
    private const string Form = "p1";
    private const int KeyBytes = 32;

    // The form of earlier versions; such hashes are made anew when they are next used.
    private static readonly PasswordHasher<Person> Former = new();

    private readonly Lock _lock = new();
    private IReadOnlyList<(string Id, byte[] Key)>? _keys;
    private string? _nobody;

    /// <summary>Where the key is.</summary>
    public string KeyFile => configuration["Secrets:KeyFile"] is { Length: > 0 } path ? path : Path.Combine(AppContext.BaseDirectory, "secrets", "secrets-key");

    /// <summary>Hashes a secret with a new salt.</summary>
    public string Hash(string secret)
    {
        var (id, key) = Keys[0];
        var salt = RandomNumberGenerator.GetBytes(16);
        return string.Join('$', Form, id, cost.Iterations.ToString(CultureInfo.InvariantCulture), Convert.ToBase64String(salt), Convert.ToBase64String(Derive(key, secret, salt, cost.Iterations)));
    }

    /// <summary>Whether a secret is the one that was hashed. Nobody's secret (an empty hash) fits never and costs as long as another.</summary>
    public bool Fits(string? hash, string secret)
    {
        var (id, iterations, salt, expected) = Read(hash is { Length: > 0 } ? hash : Nobody);
        if (id is null) return Former.VerifyHashedPassword(null!, hash!, secret) != PasswordVerificationResult.Failed;
        var key = Keys.FirstOrDefault(k => k.Id == id).Key;
        var got = Derive(key ?? Keys[0].Key, secret, salt, iterations);
        return CryptographicOperations.FixedTimeEquals(got, expected) && key is not null && hash is { Length: > 0 };
    }

    /// <summary>Whether a hash that fitted should be made anew: of an earlier form, of an older key, or too cheap.</summary>
    public bool IsOld(string hash) => Read(hash) is var (id, iterations, _, _) && (id != Keys[0].Id || iterations < cost.Iterations);

    /// <summary>Whether the key of a hash is not in the key file: nobody can use that secret until the key is back.</summary>
    public bool KeyIsLost(string? hash) => hash is { Length: > 0 } && Read(hash).Id is { } id && Keys.All(k => k.Id != id);

    /// <summary>A code over a text that only who holds the key can make: HMAC-SHA256 with a key of its own for each purpose.</summary>
    public byte[] Code(string purpose, string text) => Code(Keys[0].Key, purpose, text);

    /// <summary>Whether a code is that of the text, by any key in the file.</summary>
    public bool IsCode(string purpose, string text, ReadOnlySpan<byte> code)
    {
        foreach (var (_, key) in Keys)
        {
            if (CryptographicOperations.FixedTimeEquals(Code(key, purpose, text), code)) return true;
        }

        return false;
    }

    private static byte[] Code(byte[] key, string purpose, string text) =>
        HMACSHA256.HashData(HMACSHA256.HashData(key, Encoding.UTF8.GetBytes(purpose)), Encoding.UTF8.GetBytes(text));

    private string Nobody => _nobody ??= Hash(Guid.CreateVersion7().ToString());

    private IReadOnlyList<(string Id, byte[] Key)> Keys
    {
        get
        {
            lock (_lock) return _keys ??= ReadKeys();
        }
    }

    private List<(string, byte[])> ReadKeys()
    {
        try
        {
            if (!File.Exists(KeyFile)) Make();
            var keys = File.ReadAllLines(KeyFile).Where(l => l.Length > 0).Select(Convert.FromBase64String).ToList();
            if (keys.Count == 0 || keys.Exists(k => k.Length != KeyBytes)) throw new FormatException();
            return keys.ConvertAll(k => (Convert.ToHexStringLower(SHA256.HashData(k))[..8], k));
        }
        catch (FormatException)
        {
            throw new Operations.SettingException($"Secrets:KeyFile: {KeyFile} does not hold base64 of {KeyBytes} bytes on each line. Put the plant's own key file back; docs/operations.md says what to do when it is lost.");
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new Operations.SettingException($"Secrets:KeyFile: {KeyFile} cannot be read or made: {e.Message}. Name a file in a folder that the service may write, and keep it with the backups, apart from the database's.", e);
        }
    }

    // Several processes may start at once: what is moved into place first is the key of all of them.
    private void Make()
    {
        Directory.CreateDirectory(Path.GetDirectoryName(Path.GetFullPath(KeyFile))!);
        var part = $"{KeyFile}.{Environment.ProcessId}-{Environment.CurrentManagedThreadId}.part";
        var options = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write };
        if (!OperatingSystem.IsWindows()) options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        using (var file = new FileStream(part, options))
        {
            file.Write(Encoding.ASCII.GetBytes(Convert.ToBase64String(RandomNumberGenerator.GetBytes(KeyBytes)) + "\n"));
            file.Flush(flushToDisk: true);
        }

        try
        {
            File.Move(part, KeyFile, overwrite: false);
        }
        catch (IOException) when (File.Exists(KeyFile))
        {
            File.Delete(part);
        }
    }

    private static byte[] Derive(byte[] key, string secret, byte[] salt, int iterations) =>
        Rfc2898DeriveBytes.Pbkdf2(HMACSHA256.HashData(key, Encoding.UTF8.GetBytes(secret)), salt, iterations, HashAlgorithmName.SHA512, 32);

    private static (string? Id, int Iterations, byte[] Salt, byte[] Hash) Read(string hash) =>
        hash.Split('$') is [Form, var id, var iterations, var salt, var expected]
            ? (id, int.Parse(iterations, CultureInfo.InvariantCulture), Convert.FromBase64String(salt), Convert.FromBase64String(expected))
            : (null, 0, [], []);
}
