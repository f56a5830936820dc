namespace Traceability.Service.Operations;

/// <summary>A setting with which nothing starts. The message names it and says what to give.</summary>
public sealed class SettingException(string message, Exception? cause = null) : InvalidOperationException(message, cause);
